/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/arena.h"

#include <stdlib.h>
#include <string.h>

#define ALIGN ((size_t)16)
#ifdef BK_ARENA_DEBUG
static const size_t block_min = 0; /* every request its own malloc */
#else
static const size_t block_min = (size_t)64 * 1024;
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

static void drop_top(bk_arena *arena)
{
    bk_arena_block *block = arena->top;
    arena->top = block->below;
    free(block);
}

void bk_arena_clear(bk_arena *arena)
{
    while (arena->top)
        drop_top(arena);
    arena->used = 0;
}

static bk_arena_block *add_block(bk_arena *arena, size_t need)
{
    const size_t size = need > block_min ? need : block_min;
    bk_arena_block *block = malloc(sizeof *block + size);
    if (!block)
        return NULL;
    block->below = arena->top;
    block->used = 0;
    block->size = size;
    arena->top = block;
    return block;
}

void *bk_arena_alloc(bk_arena *arena, size_t n, size_t size, bk_err *err)
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
    memset(room, 0, bytes);
    block->used += bytes;
    arena->used += bytes;
    if (arena->used > arena->peak)
        arena->peak = arena->used;
    return room;
}

bk_arena_mark bk_arena_take_mark(const bk_arena *arena)
{
    return (bk_arena_mark){arena->top, arena->top ? arena->top->used : 0, arena->used};
}

void bk_arena_rewind(bk_arena *arena, bk_arena_mark mark)
{
    while (arena->top != mark.top)
        drop_top(arena);
    if (arena->top)
        arena->top->used = mark.top_used;
    arena->used = mark.used;
}

bk_arena bk_arena_child(const bk_arena *parent)
{
    return (bk_arena){.cap = parent->cap - parent->used, .fail_at = parent->fail_at};
}

void bk_arena_child_end(bk_arena *child, bk_arena *parent)
{
    if (parent->used + child->peak > parent->peak)
        parent->peak = parent->used + child->peak;
    parent->fail_at = child->fail_at;
    bk_arena_clear(child);
}
