/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which pixels lie near an axis, and where: arc length of the nearest axis point and signed distance. */
#include <math.h>
#include <string.h>

#include "core/image/lumen_internal.h"

#define COARSE 16 /* axis samples from one painted square to the next */
#define HALF_PX 0.5 /* a place is looked up at the nearest pixel */

static bk_status map_box(const bk_lumen_axis *axis, double reach_px, int32_t rows, int32_t cols, bk_arena *arena,
                         bk_lumen_map *out, bk_err *err)
{
    double x0 = axis->x[0], x1 = x0, y0 = axis->y[0], y1 = y0;
    for (size_t k = 1; k < axis->n; k++) {
        x0 = fmin(x0, axis->x[k]);
        x1 = fmax(x1, axis->x[k]);
        y0 = fmin(y0, axis->y[k]);
        y1 = fmax(y1, axis->y[k]);
    }
    out->col0 = (int32_t)fmin(fmax(0.0, floor(x0 - reach_px)), (double)(cols - 1));
    out->row0 = (int32_t)fmin(fmax(0.0, floor(y0 - reach_px)), (double)(rows - 1));
    out->reach_px = reach_px;
    out->cols = (int32_t)fmin(fmax(0.0, ceil(x1 + reach_px)), (double)(cols - 1)) - out->col0 + 1;
    out->rows = (int32_t)fmin(fmax(0.0, ceil(y1 + reach_px)), (double)(rows - 1)) - out->row0 + 1;
    const size_t n = (size_t)out->rows * (size_t)out->cols;
    out->s = BK_NEW_RAW(arena, n, float, err);
    out->x = BK_NEW_RAW(arena, n, float, err);
    if (out->s == NULL || out->x == NULL)
        return BK_E_LIMIT;
    for (size_t k = 0; k < n; k++) {
        out->s[k] = -1.0F;
        out->x[k] = 1e9F;
    }
    return BK_OK;
}

/* Nearest axis point by two steps of the linearised foot of the perpendicular; false beyond the ends. */
static bool foot(const bk_lumen_axis *axis, double px, double py, size_t from, double *s, double *x)
{
    const double last = (double)(axis->n - 1) * BK_LUMEN_AXIS_STEP_PX;
    double at = (double)from * BK_LUMEN_AXIS_STEP_PX;
    size_t k = from;
    for (int round = 0; round < 3; round++) {
        const double dx = px - axis->x[k], dy = py - axis->y[k];
        const double along = dx * axis->tx[k] + dy * axis->ty[k];
        *x = dx * axis->ty[k] - dy * axis->tx[k];
        const double stretch = 1.0 - axis->bend[k] * *x;
        at = (double)k * BK_LUMEN_AXIS_STEP_PX + along / fmax(stretch, 0.3);
        if (at < 0.0 || at > last)
            return false;
        const size_t next = (size_t)(at / BK_LUMEN_AXIS_STEP_PX + 0.5);
        if (next == k)
            break;
        k = next;
    }
    *s = at;
    return true;
}

/* How far along the tangent at sample k the pixels lie whose foot is within half a square of it: beside a bent axis
   farther than on it. */
static double half_square(const bk_lumen_axis *axis, size_t k, double reach_px)
{
    const size_t first = k > COARSE ? k - COARSE : 0, last = k + COARSE < axis->n ? k + COARSE : axis->n - 1;
    double bend = 0.0;
    for (size_t i = first; i <= last; i++)
        bend = fmax(bend, fabs(axis->bend[i]));
    return 0.5 * COARSE * BK_LUMEN_AXIS_STEP_PX * (1.0 + bend * reach_px) + 1.0;
}

static void paint(const bk_lumen_axis *axis, size_t k, double reach_px, bk_lumen_map *map)
{
    const double half = half_square(axis, k, reach_px);
    const int32_t r0 = (int32_t)fmax((double)map->row0, ceil(axis->y[k] - reach_px));
    const int32_t r1 = (int32_t)fmin((double)(map->row0 + map->rows - 1), floor(axis->y[k] + reach_px));
    const int32_t c0 = (int32_t)fmax((double)map->col0, ceil(axis->x[k] - reach_px));
    const int32_t c1 = (int32_t)fmin((double)(map->col0 + map->cols - 1), floor(axis->x[k] + reach_px));
    for (int32_t row = r0; row <= r1; row++)
        for (int32_t col = c0; col <= c1; col++) {
            const double dx = (double)col - axis->x[k], dy = (double)row - axis->y[k];
            if (fabs(dx * axis->tx[k] + dy * axis->ty[k]) > half)
                continue;
            double s, x;
            const size_t at = (size_t)(row - map->row0) * (size_t)map->cols + (size_t)(col - map->col0);
            if (!foot(axis, (double)col, (double)row, k, &s, &x) || fabs(x) > reach_px ||
                fabs(x) >= fabs((double)map->x[at]))
                continue;
            map->s[at] = (float)s;
            map->x[at] = (float)x;
        }
}

bk_status bk_lumen_map_new(const bk_lumen_axis *axis, double reach_px, int32_t rows, int32_t cols, bk_arena *arena,
                           bk_lumen_map *out, bk_err *err)
{
    const bk_status status = map_box(axis, reach_px, rows, cols, arena, out, err);
    if (status != BK_OK)
        return status;
    for (size_t k = 0; k < axis->n + COARSE - 1; k += COARSE)
        paint(axis, k < axis->n ? k : axis->n - 1, reach_px, out);
    return BK_OK;
}

/* How far a pixel lies beyond the edge of a limb (negative: on its lumen), or 1e9 where the limb is not near. */
static double beyond_edge(const bk_lumen_gather *g, size_t limb, int32_t row, int32_t col, size_t *at)
{
    const bk_lumen_map *const map = &g->map[limb];
    const int32_t r = row - map->row0, c = col - map->col0;
    if (r < 0 || c < 0 || r >= map->rows || c >= map->cols)
        return 1e9;
    *at = (size_t)r * (size_t)map->cols + (size_t)c;
    if (map->s[*at] < 0.0F)
        return 1e9;
    return fabs((double)map->x[*at]) - 0.5 * bk_lumen_series_at(g->diameter[limb], g->axis[limb].n, (double)map->s[*at]);
}

/* Whether a pixel, within reach of another limb's edge, may be used with what that one absorbs there: nearer to its own
   edge (beyond_px from it) than to the other, and that one outside the own lumen. Where the lumens run together absorptions
   do not add up, and before its ostium the other one is not known well enough. at: of the pixel in the other's map, beyond
   whose edge it lies by `other_px`. */
static bool lies_beside(const bk_lumen_gather *g, size_t limb, double beyond_px, size_t other, size_t at, double other_px,
                        int32_t row, int32_t col)
{
    const bk_lumen_map *const map = &g->map[other];
    const bk_lumen_axis *const axis = &g->axis[other];
    const double s = (double)map->s[at];
    if (!g->share || other_px <= fmax(beyond_px, 0.0) || s < g->from_px[other])
        return false;
    const size_t k = (size_t)fmin(s / BK_LUMEN_AXIS_STEP_PX + 0.5, (double)(axis->n - 1));
    const double back = map->x[at] > 0.0F ? -other_px : other_px;
    size_t edge = 0;
    const double clear = beyond_edge(g, limb, (int32_t)floor((double)row - back * axis->tx[k] + 0.5),
                                     (int32_t)floor((double)col + back * axis->ty[k] + 0.5), &edge);
    return clear > HALF_PX && clear < 1e9 && (double)g->map[limb].s[edge] >= g->from_px[limb];
}

/* The cell of a pixel of the limb, or -1 when it is not to be used; *beside: how many limbs it then lies beside. */
static int32_t cell_of(const bk_lumen_gather *g, size_t limb, size_t at, size_t *beside)
{
    const bk_lumen_map *const map = &g->map[limb];
    const double s = (double)map->s[at];
    if (map->s[at] < 0.0F || s < g->from_px[limb] || s >= g->to_px[limb])
        return -1;
    const double beyond = fabs((double)map->x[at]) - 0.5 * bk_lumen_series_at(g->diameter[limb], g->axis[limb].n, s);
    if (beyond > g->beside_px)
        return -1;
    const int32_t row = map->row0 + (int32_t)(at / (size_t)map->cols);
    const int32_t col = map->col0 + (int32_t)(at % (size_t)map->cols);
    if (g->mask != NULL && g->mask[(size_t)row * (size_t)g->image->cols + (size_t)col])
        return -1;
    if (!(bk_image_at(g->image, row, col) >= 0.0F))
        return -1;
    size_t found = 0;
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++) {
        size_t there = 0;
        const double other = k == limb ? 1e9 : beyond_edge(g, k, row, col, &there);
        if (other >= g->apart_px)
            continue;
        if (!lies_beside(g, limb, beyond, k, there, other, row, col))
            return -1;
        found++;
    }
    *beside = found;
    return (int32_t)((s - g->from_px[limb]) / g->cell_px[limb]);
}

static bk_status pixels_room(bk_lumen_pixels *out, size_t n, size_t cells, size_t beside, bk_arena *arena, bk_err *err)
{
    float **const list[] = {&out->s,       &out->x,       &out->t,      &out->s_unit, &out->value,
                            &out->scatter, &out->lost, &out->robust, &out->rest,   &out->pull};
    const size_t lists = sizeof list / sizeof *list;
    float *const room = BK_NEW_RAW(arena, lists * n, float, err);
    out->at = BK_NEW_RAW(arena, n, int32_t, err);
    out->cell_start = BK_NEW(arena, cells + 1, size_t, err);
    out->beside = BK_NEW_RAW(arena, beside + 1, bk_lumen_beside, err);
    if (room == NULL || out->at == NULL || out->cell_start == NULL || out->beside == NULL)
        return BK_E_LIMIT;
    out->beside_n = 0;
    out->n = n;
    out->cells = cells;
    for (size_t k = 0; k < lists; k++)
        *list[k] = room + k * n;
    return BK_OK;
}

/* Places of no weight: like the last pixel of their cell, so that they are as harmless to calculate. */
static void fill_up(bk_lumen_pixels *out, size_t cell, size_t from)
{
    for (size_t k = from; k < out->cell_start[cell + 1]; k++) {
        out->s[k] = out->s[from - 1];
        out->x[k] = out->x[from - 1];
        out->t[k] = out->t[from - 1];
        out->s_unit[k] = out->s_unit[from - 1];
        out->value[k] = out->value[from - 1];
        out->scatter[k] = out->scatter[from - 1];
        out->lost[k] = 0.0F;
        out->robust[k] = out->rest[k] = out->pull[k] = 0.0F;
        out->at[k] = -1;
    }
}

static void put_pixel(const bk_lumen_gather *g, size_t limb, size_t at, size_t cell, size_t k, bk_lumen_pixels *out)
{
    const bk_lumen_map *const map = &g->map[limb];
    const int32_t row = map->row0 + (int32_t)(at / (size_t)map->cols);
    const int32_t col = map->col0 + (int32_t)(at % (size_t)map->cols);
    const double along = ((double)map->s[at] - g->from_px[limb]) / g->cell_px[limb];
    out->s[k] = map->s[at];
    out->x[k] = map->x[at];
    out->t[k] = (float)fmin(fmax(along - (double)cell, 0.0), 1.0);
    out->s_unit[k] = (float)(2.0 * along / (double)out->cells - 1.0);
    out->value[k] = bk_image_at(g->image, row, col);
    out->scatter[k] = bk_lumen_scatter_at(&g->blurred, row + g->row0, col + g->col0);
    out->robust[k] = 1.0F;
    out->lost[k] = 0.0F;
    out->at[k] = row * g->image->cols + col;
}

/* Note the limbs whose penumbra a pixel lies in. */
static void put_beside(const bk_lumen_gather *g, size_t limb, size_t k, bk_lumen_pixels *out)
{
    const int32_t row = out->at[k] / g->image->cols, col = out->at[k] % g->image->cols;
    for (size_t other = 0; other < BK_LUMEN_LIMBS; other++) {
        size_t at = 0;
        if (other != limb && beyond_edge(g, other, row, col, &at) < g->apart_px)
            out->beside[out->beside_n++] = (bk_lumen_beside){k, other, g->map[other].s[at], g->map[other].x[at]};
    }
}

#define BESIDE (1 << 30) /* added to the bin of a pixel that lies beside another limb */

/* A bin of the sort: cell, then |x| in px. next[bin + 1] counts; *beside: how often a pixel lies beside a limb. */
static size_t count_bins(const bk_lumen_gather *g, size_t limb, size_t cells, size_t bins, int32_t *bin, size_t *next,
                         size_t *beside)
{
    const bk_lumen_map *const map = &g->map[limb];
    size_t n = 0;
    for (size_t at = 0; at < (size_t)map->rows * (size_t)map->cols; at++) {
        bin[at] = -1;
        if (map->s[at] < 0.0F)
            continue;
        size_t near = 0;
        const int32_t cell = cell_of(g, limb, at, &near);
        if (cell < 0 || cell >= (int32_t)cells)
            continue;
        const size_t away = (size_t)fabsf(map->x[at]);
        bin[at] = (int32_t)((size_t)cell * bins + (away < bins ? away : bins - 1));
        next[bin[at] + 1]++;
        n++;
        if (near > 0)
            bin[at] += BESIDE;
        *beside += near;
    }
    return n;
}

static bk_status fill_pixels(const bk_lumen_gather *g, size_t limb, bk_arena *room, bk_arena *arena,
                             bk_lumen_pixels *out, bk_err *err)
{
    const bk_lumen_map *const map = &g->map[limb];
    const size_t all = (size_t)map->rows * (size_t)map->cols, bins = (size_t)map->reach_px + 1;
    const size_t cells = (size_t)((g->to_px[limb] - g->from_px[limb]) / g->cell_px[limb] + 0.5);
    int32_t *const bin = BK_NEW_RAW(room, all, int32_t, err);
    size_t *const next = BK_NEW(room, cells * bins + 1, size_t, err);
    if (bin == NULL || next == NULL)
        return BK_E_LIMIT;
    size_t beside = 0;
    const size_t used = count_bins(g, limb, cells, bins, bin, next, &beside);
    const bk_status status = pixels_room(out, used + cells * (BK_V8 - 1), cells, beside, arena, err);
    if (status != BK_OK)
        return status;
    size_t start = 0;
    for (size_t cell = 0; cell < cells; cell++) {
        out->cell_start[cell] = start;
        for (size_t k = 0; k < bins; k++) {
            const size_t count = next[cell * bins + k + 1];
            next[cell * bins + k] = start;
            start += count;
        }
        start = (start + BK_V8 - 1) / BK_V8 * BK_V8;
    }
    out->cell_start[cells] = out->n = start;
    for (size_t at = 0; at < all; at++) {
        if (bin[at] < 0)
            continue;
        const size_t in = (size_t)(bin[at] % BESIDE), k = next[in]++;
        put_pixel(g, limb, at, in / bins, k, out);
        if (bin[at] >= BESIDE)
            put_beside(g, limb, k, out);
    }
    for (size_t cell = 0; cell < cells; cell++)
        if (next[cell * bins + bins - 1] > out->cell_start[cell])
            fill_up(out, cell, next[cell * bins + bins - 1]);
    return BK_OK;
}

bk_status bk_lumen_pixels_new(const bk_lumen_gather *g, size_t limb, bk_arena *arena, bk_lumen_pixels *out, bk_err *err)
{
    bk_arena room = bk_arena_child(arena);
    const bk_status status = fill_pixels(g, limb, &room, arena, out, err);
    bk_arena_child_end(&room, arena);
    return status;
}

static void copy_pixel(const bk_lumen_pixels *from, size_t k, bk_lumen_pixels *to, size_t at)
{
    to->s[at] = from->s[k];
    to->x[at] = from->x[k];
    to->t[at] = from->t[k];
    to->s_unit[at] = from->s_unit[k];
    to->value[at] = from->value[k];
    to->scatter[at] = from->scatter[k];
    to->lost[at] = from->lost[k];
    to->robust[at] = from->robust[k];
    to->at[at] = from->at[k];
}

bk_status bk_lumen_pixels_thin(const bk_lumen_pixels *all, int32_t each, int32_t cols, bk_arena *arena,
                               bk_lumen_pixels *out, bk_err *err)
{
    size_t used = 0;
    for (size_t k = 0; k < all->n; k++)
        used += all->at[k] >= 0 && all->at[k] / cols % each == 0 && all->at[k] % cols % each == 0;
    const bk_status status = pixels_room(out, used + all->cells * (BK_V8 - 1), all->cells, 0, arena, err);
    if (status != BK_OK)
        return status;
    size_t at = 0;
    for (size_t cell = 0; cell < all->cells; cell++) {
        const size_t start = out->cell_start[cell] = at;
        for (size_t k = all->cell_start[cell]; k < all->cell_start[cell + 1]; k++)
            if (all->at[k] >= 0 && all->at[k] / cols % each == 0 && all->at[k] % cols % each == 0)
                copy_pixel(all, k, out, at++);
        const size_t filled = at;
        at = (at + BK_V8 - 1) / BK_V8 * BK_V8;
        out->cell_start[cell + 1] = at;
        if (filled > start)
            fill_up(out, cell, filled);
    }
    out->n = at;
    return BK_OK;
}
