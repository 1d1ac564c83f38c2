/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BK_CORE_IMAGE_WIDE_H
#define BK_CORE_IMAGE_WIDE_H

/* A function compiled twice, for processors with registers of eight floats and for all others; everything it calls
   in the same file is inlined into it. Contraction is off, so that both give the same bits. */
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__SANITIZE_ADDRESS__)
#ifdef __clang__
#if !__has_feature(address_sanitizer) && !__has_feature(memory_sanitizer)
#define BK_WIDE __attribute__((target_clones("avx2", "default"), flatten))
#endif
#else
#define BK_WIDE __attribute__((target_clones("avx2", "default"), flatten))
#endif
#endif
#ifndef BK_WIDE
#define BK_WIDE
#endif
#define BK_INLINE static inline __attribute__((always_inline))

#endif
