/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>

#include "base/order.h"
#include "core/image/curve.h"
#include "core/image/follow_inside.h"
#include "core/image/follow_line.h"

#define PLACES 25         /* beside each point, odd */
#define APART_MM 0.25     /* between neighbouring places: 3 mm to either side */
#define SWING_PER_MM 0.4  /* merit that a mm costs of a part that runs off at 45 degrees */
#define SAMPLES 6         /* of a part between two points */
#define MARGIN_MM 19.0    /* around the line: most of it should be no vessel, for that tells what is noise */

typedef struct strip {
    bk_image tubes; /* of a part of the frame */
    int32_t row0, col0;
    double enough; /* strength of the vessel that is followed: more is no better, for it may be another one */
    double mm_per_px;
    const bk_pt_px *at;
    bk_pt_px *normal;
    size_t n;
} strip;

static bk_pt_px place(const strip *s, size_t k, int p)
{
    const double off = (p - PLACES / 2) * APART_MM / s->mm_per_px;
    return (bk_pt_px){s->at[k].x + off * s->normal[k].x, s->at[k].y + off * s->normal[k].y};
}

static double strength(const bk_image *tubes, double x, double y)
{
    return (double)bk_image_bilinear(tubes, (float)x, (float)y);
}

/* Of the part from a place of point k - 1 to one of point k: 0..1 for the vessel on it, less for running off. */
static double merit(const strip *s, size_t k, int p, int q)
{
    const bk_pt_px a = place(s, k - 1, p), b = place(s, k, q);
    double sum = 0;
    for (int i = 1; i <= SAMPLES; i++) {
        const double t = (double)i / SAMPLES;
        sum += fmin(strength(&s->tubes, a.x + t * (b.x - a.x) - s->col0, a.y + t * (b.y - a.y) - s->row0) / s->enough, 1);
    }
    const double length_mm = bk_px_distance(s->at[k - 1], s->at[k]) * s->mm_per_px;
    const double swing = (q - p) * APART_MM / fmax(length_mm, APART_MM);
    return length_mm * (sum / SAMPLES - SWING_PER_MM * swing * swing);
}

/* The best line through the places, from the first point as it is. */
static bk_status best_line(const strip *s, bk_arena *arena, bk_pt_px *out, bk_err *err)
{
    double *best = BK_NEW(arena, s->n * PLACES, double, err);
    int *from = BK_NEW(arena, s->n * PLACES, int, err);
    if (!best || !from)
        return err ? err->status : BK_E_LIMIT;
    for (int p = 0; p < PLACES; p++)
        best[p] = p == PLACES / 2 ? 0 : -(double)INFINITY;
    for (size_t k = 1; k < s->n; k++)
        for (int q = 0; q < PLACES; q++) {
            double *here = &best[k * PLACES + (size_t)q];
            *here = -(double)INFINITY;
            for (int p = 0; p < PLACES; p++) {
                const double before = best[(k - 1) * PLACES + (size_t)p], sum = before > -1e30 ? before + merit(s, k, p, q) : before;
                if (sum > *here) {
                    *here = sum;
                    from[k * PLACES + (size_t)q] = p;
                }
            }
        }
    const double *last = &best[(s->n - 1) * PLACES];
    int p = PLACES / 2;
    for (int q = 0; q < PLACES; q++)
        if (last[q] > last[p])
            p = q;
    for (size_t k = s->n; k-- > 0;) {
        out[k] = place(s, k, p);
        p = from[k * PLACES + (size_t)p];
    }
    return BK_OK;
}

/* Strength that half of the line exceeds. */
static bk_status usual_strength(const bk_image *tubes, const bk_follow_box *part, const bk_pt_px *line, size_t n,
                                bk_arena *arena, double *out, bk_err *err)
{
    double *along = BK_NEW(arena, n, double, err);
    if (!along)
        return err ? err->status : BK_E_LIMIT;
    for (size_t k = 0; k < n; k++)
        along[k] = strength(tubes, line[k].x - part->left, line[k].y - part->top);
    *out = bk_median(along, n);
    return BK_OK;
}

static bk_status move_aside(const bk_image *from, const bk_image *to, const bk_pt_px *was, bk_pt_px *at, size_t n,
                            double mm_per_px, bk_arena *arena, bk_err *err)
{
    const bk_follow_box before = bk_follow_box_around(was, n, MARGIN_MM / mm_per_px, from);
    const bk_follow_box now = bk_follow_box_around(at, n, MARGIN_MM / mm_per_px, to);
    strip s = {.row0 = now.top, .col0 = now.left, .mm_per_px = mm_per_px, .at = at, .n = n,
               .normal = BK_NEW(arena, n, bk_pt_px, err)};
    bk_image old;
    bk_pt_px *best = BK_NEW(arena, n, bk_pt_px, err), *copy = BK_NEW(arena, n, bk_pt_px, err);
    if (!s.normal || !best || !copy)
        return err ? err->status : BK_E_LIMIT;
    bk_status status = bk_follow_tubes(from, &before, mm_per_px, arena, &old, err);
    if (status == BK_OK)
        status = usual_strength(&old, &before, was, n, arena, &s.enough, err);
    if (status == BK_OK)
        status = bk_follow_tubes(to, &now, mm_per_px, arena, &s.tubes, err);
    if (status != BK_OK || s.enough <= 0)
        return status;
    for (size_t k = 0; k < n; k++)
        copy[k] = at[k];
    const bk_curve line = {copy, n, 1};
    bk_curve_normals(&line, s.normal);
    status = best_line(&s, arena, best, err);
    for (size_t k = 0; status == BK_OK && k < n; k++)
        at[k] = best[k];
    return status;
}

bk_status bk_follow_aside(const bk_image *from, const bk_image *to, const bk_pt_px *was, bk_pt_px *at, size_t n,
                          double mm_per_px, bk_arena *arena, bk_err *err)
{
    if (n < 2)
        return BK_OK;
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    const bk_status status = move_aside(from, to, was, at, n, mm_per_px, arena, err);
    bk_arena_rewind(arena, mark);
    return status;
}
