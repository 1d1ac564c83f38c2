/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BK_CORE_IMAGE_WIDE_H
#define BK_CORE_IMAGE_WIDE_H

#include <stdint.h>

typedef float bk_v8 __attribute__((vector_size(32)));
typedef int32_t bk_i8 __attribute__((vector_size(32)));
typedef float bk_v4 __attribute__((vector_size(16)));

/* A function compiled twice, for processors with registers of eight floats and for all others; everything it calls
   in the same file is inlined into it. Contraction is off, so that both give the same bits. By gcc only: clang 14 cannot
   do both at once, and under the address sanitizer the choice would run before the sanitizer is there. */
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__)
#define BK_WIDE __attribute__((target_clones("avx2", "default"), flatten))
#else
#define BK_WIDE
#endif
#define BK_INLINE static inline __attribute__((always_inline))

#endif
