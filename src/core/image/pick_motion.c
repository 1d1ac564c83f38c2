/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdlib.h>

#include "core/image/gauss.h"
#include "core/image/pick.h"

#define BLOCK 32
#define REACH 12        /* px each way */
#define REFINE 2        /* px each way around twice the shift found on halved images */
#define LEAST_SHARE 0.1 /* of the strongest block's energy */
#define STIFFNESS 2e-3  /* cost of a shift of 1 px, in parts of the block's energy: along a straight tube all fit alike */

typedef struct vote {
    double shift_px, weight;
} vote;

/* A square of image a, and where in image b it is looked for. */
typedef struct search {
    const bk_image *a, *b;
    int32_t row, col, side;
    int x, y, reach; /* shifts tried: x-reach..x+reach, y-reach..y+reach */
    double stiffness;
} search;

static double value_or_zero(const bk_image *image, int32_t r, int32_t c)
{
    return r < 0 || c < 0 || r >= image->rows || c >= image->cols ? 0 : (double)bk_image_at(image, r, c);
}

static double energy_of(const bk_image *a, int32_t r0, int32_t c0)
{
    double sum = 0;
    for (int32_t r = r0; r < r0 + BLOCK && r < a->rows; r++)
        for (int32_t c = c0; c < c0 + BLOCK && c < a->cols; c++)
            sum += (double)bk_image_at(a, r, c) * (double)bk_image_at(a, r, c);
    return sum;
}

static double cost_of(const search *s, int x, int y)
{
    double sum = s->stiffness * (x * x + y * y);
    for (int32_t r = s->row; r < s->row + s->side && r < s->a->rows; r++)
        for (int32_t c = s->col; c < s->col + s->side && c < s->a->cols; c++) {
            const double v = (double)bk_image_at(s->a, r, c) - value_or_zero(s->b, r + y, c + x);
            sum += v * v;
        }
    return sum;
}

/* The cheapest shift; of equal ones the first tried. */
static void cheapest(search *s)
{
    const int x0 = s->x, y0 = s->y;
    double least = INFINITY;
    for (int y = y0 - s->reach; y <= y0 + s->reach; y++)
        for (int x = x0 - s->reach; x <= x0 + s->reach; x++) {
            const double cost = cost_of(s, x, y);
            if (cost < least) {
                least = cost;
                s->x = x;
                s->y = y;
            }
        }
}

/* Minimum of the paraboloid through the costs around the cheapest shift, within half a step. The mixed term matters:
   across a slanting tube x and y trade for one another. */
static double refined_shift(const search *s)
{
    double c[3][3];
    for (int y = -1; y <= 1; y++)
        for (int x = -1; x <= 1; x++)
            c[y + 1][x + 1] = cost_of(s, s->x + x, s->y + y);
    const double xx = c[1][0] - 2 * c[1][1] + c[1][2], yy = c[0][1] - 2 * c[1][1] + c[2][1];
    const double xy = 0.25 * (c[2][2] + c[0][0] - c[0][2] - c[2][0]), det = xx * yy - xy * xy;
    const double gx = 0.5 * (c[1][2] - c[1][0]), gy = 0.5 * (c[2][1] - c[0][1]);
    double x = 0, y = 0;
    if (xx > 0 && det > 0) {
        x = fmax(-0.5, fmin(0.5, (xy * gy - yy * gx) / det));
        y = fmax(-0.5, fmin(0.5, (xy * gx - xx * gy) / det));
    }
    return hypot(s->x + x, s->y + y);
}

static double block_shift(const bk_image full[2], const bk_image half[2], int32_t row, int32_t col, double energy)
{
    search coarse = {&half[0], &half[1], row / 2, col / 2, BLOCK / 2, 0, 0, REACH / 2, STIFFNESS * energy};
    cheapest(&coarse); /* a quarter of the pixels, four times the squared shift: the same stiffness */
    search fine = {&full[0], &full[1], row, col, BLOCK, 2 * coarse.x, 2 * coarse.y, REFINE, STIFFNESS * energy};
    cheapest(&fine);
    return refined_shift(&fine);
}

static int by_shift(const void *a, const void *b)
{
    const double x = ((const vote *)a)->shift_px, y = ((const vote *)b)->shift_px;
    return (x > y) - (x < y);
}

static double weighted_median(vote *votes, size_t n)
{
    double all = 0, sum = 0;
    for (size_t i = 0; i < n; i++)
        all += votes[i].weight;
    qsort(votes, n, sizeof *votes, by_shift);
    for (size_t i = 0; i < n; i++) {
        sum += votes[i].weight;
        if (sum >= 0.5 * all)
            return votes[i].shift_px;
    }
    return NAN;
}

static bk_status vote_blocks(const bk_image full[2], bk_arena *arena, double *out_px, bk_err *err)
{
    const int32_t down = (full[0].rows + BLOCK - 1) / BLOCK, across = (full[0].cols + BLOCK - 1) / BLOCK;
    double *energy = BK_NEW(arena, down * across, double, err);
    vote *votes = BK_NEW(arena, down * across, vote, err);
    bk_image half[2];
    if (!energy || !votes || bk_image_halve(&full[0], arena, &half[0], err) != BK_OK ||
        bk_image_halve(&full[1], arena, &half[1], err) != BK_OK)
        return err ? err->status : BK_E_LIMIT;
    double strongest = 0;
    size_t n = 0;
    for (int32_t i = 0; i < down * across; i++) {
        energy[i] = energy_of(&full[0], i / across * BLOCK, i % across * BLOCK);
        strongest = fmax(strongest, energy[i]);
    }
    for (int32_t i = 0; i < down * across; i++)
        if (energy[i] > 0 && energy[i] >= LEAST_SHARE * strongest)
            votes[n++] = (vote){block_shift(full, half, i / across * BLOCK, i % across * BLOCK, energy[i]), energy[i]};
    *out_px = weighted_median(votes, n);
    return BK_OK;
}

bk_status bk_pick_motion(const bk_image *a, const bk_image *b, bk_arena *arena, double *out_px, bk_err *err)
{
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    const bk_image full[2] = {*a, *b};
    *out_px = NAN;
    const bk_status status = vote_blocks(full, arena, out_px, err);
    bk_arena_rewind(arena, mark);
    return status;
}
