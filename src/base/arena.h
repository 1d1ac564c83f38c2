/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A growing region with a hard cap: everything of one command lives in it and is freed together.
   Memory is zero-filled and 16-byte aligned. Build with -Darena_debug=true to give each request its own
   malloc, so that AddressSanitizer sees overruns between blocks. */
#ifndef BK_BASE_ARENA_H
#define BK_BASE_ARENA_H

#include <stddef.h>

#include "base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct bk_arena_block bk_arena_block;

typedef struct bk_arena {
    bk_arena_block *top; /* newest block */
    bk_arena_block *spare; /* blocks given back, for the next request: fresh pages are dear */
    size_t used, peak;   /* bytes handed out now, and at most */
    size_t cap;          /* bytes it may hand out */
    long fail_at;        /* test hook: the fail_at-th request from now fails; 0 = never */
} bk_arena;

typedef struct bk_arena_mark {
    bk_arena_block *top;
    size_t top_used, used;
} bk_arena_mark;

/** Start an empty arena that hands out at most cap bytes. Allocates nothing yet. */
void bk_arena_init(bk_arena *arena, size_t cap);

/** Free everything. The arena may be used again after bk_arena_init. */
void bk_arena_clear(bk_arena *arena);

/**
 * Zero-filled room for n items of size bytes each. n = 0 gives a valid pointer.
 * Errors: BK_E_LIMIT over the cap or on overflow, BK_E_INTERNAL out of memory; returns NULL then.
 */
void *bk_arena_alloc(bk_arena *arena, size_t n, size_t size, bk_err *err) BK_MUST_CHECK;

/** The same, not zero-filled: for room that is written before it is read. */
void *bk_arena_alloc_raw(bk_arena *arena, size_t n, size_t size, bk_err *err) BK_MUST_CHECK;

/** Take a mark; rewinding to it frees all that was handed out since. Marks nest. */
bk_arena_mark bk_arena_take_mark(const bk_arena *arena);
void bk_arena_rewind(bk_arena *arena, bk_arena_mark mark);

/**
 * A second region for what a function needs only while it runs, when its result goes into the first. It may hand out
 * what the parent has left now, and takes over its spare blocks until it ends. End it with bk_arena_child_end, which frees it and counts its peak in the parent's.
 */
bk_arena bk_arena_child(bk_arena *parent);
void bk_arena_child_end(bk_arena *child, bk_arena *parent);

#define BK_NEW_RAW(arena, n, type, err) ((type *)bk_arena_alloc_raw((arena), (size_t)(n), sizeof(type), (err)))
#define BK_NEW(arena, n, type, err) ((type *)bk_arena_alloc((arena), (size_t)(n), sizeof(type), (err)))

#ifdef __cplusplus
}
#endif
#endif
