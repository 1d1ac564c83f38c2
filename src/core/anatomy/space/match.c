/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/space/match.h"

#include <math.h>
#include <stdint.h>

#define STEP_MM 0.6      /* between places that are tried, in either view */
#define GAP_SD_MM 0.3
#define DIAMETER_SD 0.15 /* of the diameter: eccentric lumens look different from two sides */
#define DIAMETER_SD_MM 0.1
#define ADVANCE_SD 0.5   /* of a step: how unevenly both views may advance; foreshortening changes slowly */
#define UNMATCHED 0.3    /* a step of a limb that ends without a match */

bk_vec bk_match_across(const bk_carm *a, const bk_carm *b)
{
    return bk_vec_unit(bk_vec_cross(a->beam, b->beam));
}

double bk_match_shift(const bk_carm *a, bk_pt_px in_a, const bk_carm *b, bk_pt_px in_b)
{
    const bk_vec normal = bk_vec_cross(bk_carm_ray(a, in_a), bk_carm_ray(b, in_b));
    return bk_vec_dot(bk_vec_sub(b->source, a->source), normal) / bk_vec_dot(bk_match_across(a, b), normal);
}

/* Places of one view along its limb, evenly. */
typedef struct places {
    size_t n;
    double step_px;
} places;

static places lay_places(const bk_carm *carm, const bk_sight_limb *limb)
{
    const double mm = carm->spacing_mm[1] * carm->sod_mm / carm->sid_mm, length = bk_sight_length(limb);
    const size_t steps = (size_t)fmax(ceil(length * mm / STEP_MM), 1);
    return (places){steps + 1, length / (double)steps};
}

typedef struct table {
    const bk_carm *carm[2];
    const bk_sight_limb *limb[2];
    places place[2];
    double *cost, *sum; /* of each pair: place[0].n x place[1].n */
    uint8_t *from;
} table;

static bk_vec meet(const table *t, double arc_a, double arc_b, double *gap)
{
    bk_pt_px tangent;
    return bk_carm_meet(t->carm[0], bk_sight_point(t->limb[0], arc_a, &tangent), t->carm[1],
                        bk_sight_point(t->limb[1], arc_b, &tangent), gap);
}

static double pair_cost(const table *t, size_t i, size_t j)
{
    const double a = (double)i * t->place[0].step_px, b = (double)j * t->place[1].step_px;
    double gap;
    const bk_vec p = meet(t, a, b, &gap);
    const double da = bk_sight_at(t->limb[0], t->limb[0]->diameter_px, a) * bk_carm_mm_per_px(t->carm[0], p);
    const double db = bk_sight_at(t->limb[1], t->limb[1]->diameter_px, b) * bk_carm_mm_per_px(t->carm[1], p);
    const double sd = hypot(DIAMETER_SD * 0.5 * (da + db), DIAMETER_SD_MM), d = fmin(fabs(da - db) / sd, 3);
    return gap * gap / (GAP_SD_MM * GAP_SD_MM) + d * d;
}

/* Moves: how far either view advances. */
enum { MOVES = 5 };
static const size_t move_a[MOVES] = {1, 1, 0, 2, 1}, move_b[MOVES] = {1, 0, 1, 1, 2};

static void fill(table *t)
{
    const size_t n = t->place[0].n, m = t->place[1].n;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < m; j++) {
            const size_t at = i * m + j;
            t->cost[at] = pair_cost(t, i, j);
            t->sum[at] = at == 0 ? 0 : INFINITY;
            for (uint8_t k = 0; k < MOVES; k++) {
                if (i < move_a[k] || j < move_b[k])
                    continue;
                const double advance = 0.5 * (double)(move_a[k] + move_b[k]);
                const double uneven = ((double)move_a[k] - (double)move_b[k]) / ADVANCE_SD / 2;
                const double sum = t->sum[at - move_a[k] * m - move_b[k]] + advance * t->cost[at] + uneven * uneven;
                if (sum < t->sum[at]) {
                    t->sum[at] = sum;
                    t->from[at] = k;
                }
            }
        }
}

/* The best pair in which one of both limbs has come to its end; what is left of the other costs a little. */
static size_t best_end(const table *t)
{
    const size_t n = t->place[0].n, m = t->place[1].n;
    size_t best = n * m - 1;
    double least = INFINITY;
    for (size_t i = 1; i < n; i++)
        for (size_t j = i + 1 == n ? 1 : m - 1; j < m; j++) {
            const double sum = t->sum[i * m + j] + UNMATCHED * (double)(n - 1 - i + m - 1 - j);
            if (sum < least) {
                least = sum;
                best = i * m + j;
            }
        }
    return best;
}

static bk_status walk_back(const table *t, bk_arena *arena, bk_matches *out, bk_err *err)
{
    const size_t m = t->place[1].n;
    size_t n = 1;
    for (size_t at = best_end(t); at > 0; at -= move_a[t->from[at]] * m + move_b[t->from[at]])
        n++;
    out->n = n;
    out->match = BK_NEW(arena, n, bk_match, err);
    if (out->match == NULL)
        return BK_E_LIMIT;
    double squares = 0;
    size_t at = best_end(t);
    for (size_t k = n; k-- > 0;) {
        bk_match *const one = &out->match[k];
        one->arc_px[0] = (double)(at / m) * t->place[0].step_px;
        one->arc_px[1] = (double)(at % m) * t->place[1].step_px;
        double gap;
        one->point = meet(t, one->arc_px[0], one->arc_px[1], &gap);
        squares += gap * gap;
        if (at > 0)
            at -= move_a[t->from[at]] * m + move_b[t->from[at]];
    }
    out->gap_mm = n > 1 ? sqrt(squares / (double)(n - 1)) : 0;
    return BK_OK;
}

bk_status bk_match_limb(const bk_carm *a, const bk_sight_limb *in_a, const bk_carm *b, const bk_sight_limb *in_b,
                        bk_arena *arena, bk_matches *out, bk_err *err)
{
    if (in_a->n < 2 || in_b->n < 2)
        return bk_fail(err, BK_E_NOTHING, "a limb is not seen in both views");
    bk_arena room = bk_arena_child(arena);
    table t = {{a, b}, {in_a, in_b}, {lay_places(a, in_a), lay_places(b, in_b)}, NULL, NULL, NULL};
    const size_t pairs = t.place[0].n * t.place[1].n;
    t.cost = BK_NEW(&room, pairs, double, err);
    t.sum = BK_NEW(&room, pairs, double, err);
    t.from = BK_NEW(&room, pairs, uint8_t, err);
    bk_status status = t.cost && t.sum && t.from ? BK_OK : BK_E_LIMIT;
    if (status == BK_OK) {
        fill(&t);
        status = walk_back(&t, arena, out, err);
    }
    bk_arena_child_end(&room, arena);
    return status;
}
