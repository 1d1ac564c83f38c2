/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The region of a unit test that needs one for all its tests: group fixtures for cmocka. */
#ifndef BK_TESTS_ARENA_H
#define BK_TESTS_ARENA_H

#include "base/arena.h"
#include "support/check.h"

static bk_arena arena;

static int start(void **state)
{
    (void)state;
    bk_arena_init(&arena, (size_t)512 << 20);
    return 0;
}
static int stop(void **state)
{
    (void)state;
    bk_arena_clear(&arena);
    return 0;
}

#endif
