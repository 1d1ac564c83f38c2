/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/arena.h"

#include <stdlib.h>
#include <string.h>

#define ALIGN ((size_t)16)
#ifdef BK_ARENA_DEBUG
static const size_t block_min = 0; /* every request its own malloc */
#else
static const size_t block_min = (size_t)4 << 20; /* large, so that blocks given back fit what is asked for next */
#endif

struct bk_arena_block {
    bk_arena_block *below;
    size_t used, size;
    _Alignas(16) unsigned char bytes[];
};

void bk_arena_init(bk_arena *arena, size_t cap)
{
    *arena = (bk_arena){.cap = cap};
}

static void free_all(bk_arena_block **list)
{
    while (*list) {
        bk_arena_block *block = *list;
        *list = block->below;
        free(block);
    }
}

/* Set the newest block aside. */
static void put_by(bk_arena *arena)
{
    bk_arena_block *block = arena->top;
    arena->top = block->below;
#ifdef BK_ARENA_DEBUG
    free(block);
#else
    block->below = arena->spare;
    arena->spare = block;
#endif
}

void bk_arena_clear(bk_arena *arena)
{
    free_all(&arena->top);
    free_all(&arena->spare);
    arena->used = 0;
}

/* Smallest spare block that holds `need` bytes and is not much too large for them. */
static bk_arena_block *take_spare(bk_arena *arena, size_t need)
{
    bk_arena_block **best = NULL;
    for (bk_arena_block **at = &arena->spare; *at; at = &(*at)->below)
        if ((*at)->size >= need && (*at)->size / 4 <= need && (!best || (*at)->size < (*best)->size))
            best = at;
    if (!best)
        return NULL;
    bk_arena_block *block = *best;
    *best = block->below;
    return block;
}

static bk_arena_block *add_block(bk_arena *arena, size_t need)
{
    const size_t size = need > block_min ? need : block_min;
    bk_arena_block *block = take_spare(arena, size);
    if (!block) {
        block = malloc(sizeof *block + size);
        if (!block)
            return NULL;
        block->size = size;
    }
    block->below = arena->top;
    block->used = 0;
    arena->top = block;
    return block;
}

void *bk_arena_alloc_raw(bk_arena *arena, size_t n, size_t size, bk_err *err)
{
    size_t bytes;
    if (__builtin_mul_overflow(n, size, &bytes) || bytes > arena->cap - arena->used ||
        bytes > arena->cap - ALIGN) {
        bk_fail(err, BK_E_LIMIT, "%zu items of %zu bytes were needed, the memory cap is %zu bytes", n, size,
                arena->cap);
        return NULL;
    }
    bytes = (bytes + ALIGN - 1) / ALIGN * ALIGN;
    if (bytes == 0)
        bytes = ALIGN;
    if (arena->fail_at > 0 && --arena->fail_at == 0) {
        bk_fail(err, BK_E_INTERNAL, "out of memory (asked for by a test)");
        return NULL;
    }
    bk_arena_block *block = arena->top;
    if (!block || block->size - block->used < bytes)
        block = add_block(arena, bytes);
    if (!block) {
        bk_fail(err, BK_E_INTERNAL, "out of memory at %zu bytes", bytes);
        return NULL;
    }
    void *room = block->bytes + block->used;
    block->used += bytes;
    arena->used += bytes;
    if (arena->used > arena->peak)
        arena->peak = arena->used;
    return room;
}

void *bk_arena_alloc(bk_arena *arena, size_t n, size_t size, bk_err *err)
{
    void *room = bk_arena_alloc_raw(arena, n, size, err);
    if (room)
        memset(room, 0, n * size);
    return room;
}

bk_arena_mark bk_arena_take_mark(const bk_arena *arena)
{
    return (bk_arena_mark){arena->top, arena->top ? arena->top->used : 0, arena->used};
}

void bk_arena_rewind(bk_arena *arena, bk_arena_mark mark)
{
    while (arena->top != mark.top)
        put_by(arena);
    if (arena->top)
        arena->top->used = mark.top_used;
    arena->used = mark.used;
}

bk_arena bk_arena_child(bk_arena *parent)
{
    const bk_arena child = {.cap = parent->cap - parent->used, .fail_at = parent->fail_at, .spare = parent->spare};
    parent->spare = NULL;
    return child;
}

void bk_arena_child_end(bk_arena *child, bk_arena *parent)
{
    if (parent->used + child->peak > parent->peak)
        parent->peak = parent->used + child->peak;
    parent->fail_at = child->fail_at;
    while (child->top)
        put_by(child);
    while (child->spare) {
        bk_arena_block *block = child->spare;
        child->spare = block->below;
        block->below = parent->spare;
        parent->spare = block;
    }
    *child = (bk_arena){0};
}
