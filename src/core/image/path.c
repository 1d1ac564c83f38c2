/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/path.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "core/image/wide.h"

#define UNIT 16            /* integer cost of one px at cost 1 */
#define ROOT2 1448         /* of 1024 */
#define CLOSED UINT16_MAX
#define COST_MAX 100.0F
#define RING 4096          /* more than the dearest step: 16 * 100 * sqrt 2 = 2263 */
#define NONE UINT32_MAX
#define NOT_REACHED 255

/* A ring of buckets, each a doubly linked list of pixels, so that a pixel that comes nearer is moved. */
typedef struct search {
    const bk_image *cost;
    uint16_t *half; /* of UNIT times the cost; CLOSED where there is no way */
    uint32_t *distance, *after, *before; /* before = NONE: first of its bucket */
    uint8_t *came_from; /* direction 0..7 towards the source; 8 at the source; 255 not reached */
    uint8_t *settled;
    uint32_t head[RING];
} search;

static const int8_t step_row[8] = {0, 1, 1, 1, 0, -1, -1, -1};
static const int8_t step_col[8] = {1, 1, 0, -1, -1, -1, 0, 1};

BK_WIDE static void take_costs(const float *cost, size_t n, uint16_t *half)
{
    for (size_t k = 0; k < n; k++) {
        const float c = cost[k] < COST_MAX ? cost[k] : COST_MAX;
        const int32_t whole = (int32_t)(0.5F * UNIT * c + 0.5F);
        half[k] = cost[k] > 1e30F ? CLOSED : (uint16_t)whole;
    }
}

static bk_status start(search *s, const bk_image *cost, bk_arena *arena, bk_err *err)
{
    const size_t n = (size_t)cost->rows * (size_t)cost->cols;
    s->cost = cost;
    s->half = BK_NEW_RAW(arena, n, uint16_t, err);
    s->distance = BK_NEW_RAW(arena, n, uint32_t, err);
    s->after = BK_NEW_RAW(arena, n, uint32_t, err);
    s->before = BK_NEW_RAW(arena, n, uint32_t, err);
    s->came_from = BK_NEW_RAW(arena, n, uint8_t, err);
    s->settled = BK_NEW(arena, n, uint8_t, err);
    if (!s->half || !s->distance || !s->after || !s->before || !s->came_from || !s->settled)
        return err ? err->status : BK_E_LIMIT;
    memset(s->distance, 0xff, n * sizeof *s->distance);
    memset(s->came_from, 0xff, n);
    memset(s->head, 0xff, sizeof s->head);
    take_costs(cost->px, n, s->half);
    return BK_OK;
}

static void put_in(search *s, uint32_t pixel)
{
    uint32_t *head = &s->head[s->distance[pixel] % RING];
    s->before[pixel] = NONE;
    s->after[pixel] = *head;
    if (*head != NONE)
        s->before[*head] = pixel;
    *head = pixel;
}

static void take_out(search *s, uint32_t pixel)
{
    const uint32_t before = s->before[pixel], after = s->after[pixel];
    if (before == NONE)
        s->head[s->distance[pixel] % RING] = after;
    else
        s->after[before] = after;
    if (after != NONE)
        s->before[after] = before;
}

static void relax_neighbours(search *s, uint32_t pixel)
{
    const int32_t cols = s->cost->cols, row = (int32_t)pixel / cols, col = (int32_t)pixel % cols;
    const uint32_t here = s->half[pixel], so_far = s->distance[pixel];
    for (int d = 0; d < 8; d++) {
        const int32_t r = row + step_row[d], c = col + step_col[d];
        if (r < 0 || r >= s->cost->rows || c < 0 || c >= cols)
            continue;
        const uint32_t other = (uint32_t)(r * cols + c);
        if (s->settled[other] || s->half[other] == CLOSED)
            continue;
        const uint32_t both = here + s->half[other], straight = both > UNIT ? both : UNIT;
        const uint32_t distance = so_far + (d % 2 ? (straight * ROOT2 + 512) / 1024 : straight);
        if (distance < s->distance[other]) {
            if (s->came_from[other] != NOT_REACHED)
                take_out(s, other);
            s->distance[other] = distance;
            s->came_from[other] = (uint8_t)((d + 4) % 8);
            put_in(s, other);
        }
    }
}

static uint32_t pixel_index(const bk_image *image, bk_pt_px p)
{
    return (uint32_t)((int32_t)lround(p.y) * image->cols + (int32_t)lround(p.x));
}

/* Settle pixels in order of distance until the target is. */
static bool flood(search *s, uint32_t target)
{
    uint32_t empty = 0;
    for (uint32_t distance = 0; empty < RING; distance++) {
        empty++;
        while (s->head[distance % RING] != NONE) {
            const uint32_t pixel = s->head[distance % RING];
            empty = 0;
            take_out(s, pixel);
            s->settled[pixel] = 1;
            if (pixel == target)
                return true;
            relax_neighbours(s, pixel);
        }
    }
    return false;
}

static bk_status walk_back(const search *s, uint32_t target, bk_arena *arena, bk_path *out, bk_err *err)
{
    const int32_t cols = s->cost->cols;
    size_t n = 1;
    for (uint32_t p = target; s->came_from[p] < 8; n++)
        p = (uint32_t)((int32_t)p + step_row[s->came_from[p]] * cols + step_col[s->came_from[p]]);
    out->n = n;
    out->points = BK_NEW(arena, n, bk_pt_px, err);
    if (!out->points)
        return err ? err->status : BK_E_LIMIT;
    double length = 0;
    uint32_t p = target;
    for (size_t i = n; i-- > 0;) {
        out->points[i] = (bk_pt_px){(double)((int32_t)p % cols), (double)((int32_t)p / cols)};
        if (i > 0) {
            length += s->came_from[p] % 2 ? sqrt(2) : 1;
            p = (uint32_t)((int32_t)p + step_row[s->came_from[p]] * cols + step_col[s->came_from[p]]);
        }
    }
    out->mean_cost = length > 0 ? s->distance[target] / (UNIT * length) : 0;
    return BK_OK;
}

static bk_status trace(const bk_image *cost, const bk_pt_px *sources, size_t sources_n, bk_pt_px target, bk_arena *room,
                       bk_arena *arena, bk_path *out, bk_err *err)
{
    search *s = BK_NEW(room, 1, search, err);
    if (!s || start(s, cost, room, err) != BK_OK)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < sources_n; i++) {
        const uint32_t source = pixel_index(cost, sources[i]);
        if (s->came_from[source] == 8)
            continue;
        s->distance[source] = 0;
        s->came_from[source] = 8;
        put_in(s, source);
    }
    if (!flood(s, pixel_index(cost, target)))
        return bk_fail(err, BK_E_NOTHING, "no way between the clicks was found");
    return walk_back(s, pixel_index(cost, target), arena, out, err);
}

bk_status bk_path_trace(const bk_image *cost, const bk_pt_px *sources, size_t sources_n, bk_pt_px target,
                        bk_arena *arena, bk_path *out, bk_err *err)
{
    bk_arena room = bk_arena_child(arena);
    const bk_status status = trace(cost, sources, sources_n, target, &room, arena, out, err);
    bk_arena_child_end(&room, arena);
    return status;
}
