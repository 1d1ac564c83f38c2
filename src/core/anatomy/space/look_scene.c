/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/space/look.h"

#include <string.h>

#include "core/num.h"

#define PIECE_MM 0.5
#define SHORTEST_MM 2.0
#define SOURCE_MM 100.0
#define FAR_MM 1e6F
#define RADIANS (3.14159265358979323846 / 180)
#define SD_LEAST_MM 0.05 /* two axes are never known better against each other; keeps the gap in SDs finite */

static double length_of(const bk_curve3 *c)
{
    double sum = 0;
    for (size_t i = 1; i < c->n; i++)
        sum += bk_vec_length(bk_vec_sub(c->at[i], c->at[i - 1]));
    return sum;
}

/* The curve at arc length s from the branch point, and its diameter there; *from and *behind remember where the last
   call ended, so s must not fall. */
typedef struct walk {
    const bk_curve3 *curve;
    size_t from;
    double behind;
} walk;

static bk_vec walk_to(walk *w, double s, double *diameter_mm)
{
    const bk_curve3 *c = w->curve;
    double leg = bk_vec_length(bk_vec_sub(c->at[w->from + 1], c->at[w->from]));
    while (w->behind + leg < s && w->from + 2 < c->n) {
        w->behind += leg;
        w->from++;
        leg = bk_vec_length(bk_vec_sub(c->at[w->from + 1], c->at[w->from]));
    }
    const double f = leg > 0 ? fmin((s - w->behind) / leg, 1) : 0;
    *diameter_mm = c->diameter_mm[w->from] + f * (c->diameter_mm[w->from + 1] - c->diameter_mm[w->from]);
    return bk_vec_along(c->at[w->from], f, bk_vec_sub(c->at[w->from + 1], c->at[w->from]));
}

static void put(float array[3][BK_LOOK_PIECES], int k, bk_vec v)
{
    for (int i = 0; i < 3; i++)
        array[i][k] = (float)v.v[i];
}

static bk_status cut(const bk_curve3 *c, const char *name, bk_look_limb *out, bk_vec *chord, bk_err *err)
{
    const double total = length_of(c);
    if (!(total >= SHORTEST_MM))
        return bk_fail(err, BK_E_DATA, "the %s limb is %.2f mm long, at least %g mm were expected", name, total, SHORTEST_MM);
    const double wanted = ceil(total / PIECE_MM);
    out->n = wanted < 8 ? 8 : wanted > BK_LOOK_PIECES ? BK_LOOK_PIECES : (int)wanted;
    out->padded = (out->n + 7) / 8 * 8;
    out->direction_sd = c->direction_sd_deg * RADIANS;
    walk w = {c, 0, 0};
    double d;
    const double step = total / out->n;
    bk_vec from = c->at[0];
    for (int k = 0; k < out->n; k++) {
        put(out->at, k, walk_to(&w, (k + 0.5) * step, &d));
        if (!(d > 0))
            return bk_fail(err, BK_E_DATA, "a diameter of %g mm was found in the %s limb, one above 0 was expected", d, name);
        out->radius[k] = (float)(0.5 * d);
        const bk_vec to = walk_to(&w, (k + 1) * step, &d), leg = bk_vec_sub(to, from);
        const double chord_mm = bk_vec_length(leg);
        put(out->along, k, chord_mm > 0 ? bk_vec_times(1 / chord_mm, leg) : bk_vec_of(0, 0, 1));
        out->length[k] = (float)step;
        out->near_length[k] = (float)fmin(fmax(BK_LOOK_NEAR_MM - k * step, 0), step);
        from = to;
    }
    for (int k = out->n; k < out->padded; k++)
        put(out->at, k, bk_vec_of(0, 0, FAR_MM));
    walk again = {c, 0, 0};
    const bk_vec whole = bk_vec_sub(c->at[c->n - 1], c->at[0]);
    const bk_vec near = bk_vec_sub(walk_to(&again, fmin(BK_LOOK_NEAR_MM, total), &d), c->at[0]);
    if (!(bk_vec_length(whole) > 1 && bk_vec_length(near) > 1))
        return bk_fail(err, BK_E_DATA, "the %s limb comes back to where it begins, one that leads away was expected", name);
    out->axis = bk_vec_unit(whole);
    *chord = bk_vec_unit(near);
    return BK_OK;
}

static double apart_mm(const bk_look_limb *a, int k, const bk_look_limb *b, int j)
{
    double sum = 0;
    for (int i = 0; i < 3; i++)
        sum += pow((double)a->at[i][k] - (double)b->at[i][j], 2);
    return sqrt(sum);
}

/* The pieces from the branch point on whose tube still runs into that of b. */
static int joined_with(const bk_look_limb *a, const bk_look_limb *b)
{
    for (int k = 0; k < a->n; k++) {
        double gap = INFINITY;
        for (int j = 0; j < b->n; j++)
            gap = fmin(gap, apart_mm(a, k, b, j) - (double)a->radius[k] - (double)b->radius[j]);
        if (gap > 0)
            return k;
    }
    return a->n;
}

static void free_parts(bk_look_scene *s, int i)
{
    bk_look_limb *a = &s->limb[i];
    int joined = 0;
    for (int j = 0; j < BK_LIMBS; j++)
        if (j != i) {
            const int n = joined_with(a, &s->limb[j]);
            joined = n > joined ? n : joined;
        }
    const double step = (double)a->length[0];
    a->joined_mm = joined * step;
    for (int k = 0; k < a->n; k++) {
        a->free_length[k] = k >= joined ? a->length[k] : 0;
        a->near_free[k] = k >= joined ? (float)fmin(fmax(a->joined_mm + BK_LOOK_NEAR_MM - k * step, 0), step) : 0;
        a->total += (double)a->length[k];
        a->near_total += (double)a->near_length[k];
        a->free_total += (double)a->free_length[k];
        a->near_free_total += (double)a->near_free[k];
    }
}

/* A turn of a limb moves a piece by its distance from the branch point; the places themselves add to it. */
static void firmness(bk_look_scene *s, const bk_curve3 *limb, int pair)
{
    const int i = pair, j = (pair + 1) % BK_LIMBS;
    const bk_look_limb *a = &s->limb[i], *b = &s->limb[j];
    const double place = pow(limb[i].position_sd_mm, 2) + pow(limb[j].position_sd_mm, 2) + pow(SD_LEAST_MM, 2);
    for (int k = 0; k < BK_LOOK_PIECES; k++)
        for (int m = 0; m < BK_LOOK_PIECES; m++) {
            const double turn_a = (k + 0.5) * (double)a->length[0] * a->direction_sd;
            const double turn_b = (m + 0.5) * (double)b->length[0] * b->direction_sd;
            s->firm[pair][k][m] = (float)(1 / sqrt(place + turn_a * turn_a + turn_b * turn_b));
        }
}

static bk_status spans_planes(const bk_look_scene *s, bk_err *err)
{
    const bk_vec *c = s->chord;
    const double daughters = bk_vec_angle_deg(c[BK_DISTAL], c[BK_SIDE]), main = bk_vec_angle_deg(c[BK_PROXIMAL], c[BK_DISTAL]);
    if (!(daughters > BK_LOOK_PARALLEL && daughters < 180 - BK_LOOK_PARALLEL))
        return bk_fail(err, BK_E_DATA, "distal main and side branch were found %.1f degrees apart, %g to %g were expected", daughters,
                       BK_LOOK_PARALLEL, 180 - BK_LOOK_PARALLEL);
    if (!(main > BK_LOOK_PARALLEL))
        return bk_fail(err, BK_E_DATA, "proximal and distal main were found %.1f degrees apart, at least %g were expected", main,
                       BK_LOOK_PARALLEL);
    const double off = bk_vec_angle_deg(bk_vec_sub(c[BK_DISTAL], c[BK_PROXIMAL]), c[BK_SIDE]);
    if (!(off > BK_LOOK_PARALLEL && off < 180 - BK_LOOK_PARALLEL))
        return bk_fail(err, BK_E_DATA, "the side branch was found %.1f degrees from the main vessel's axis, %g to %g were expected", off,
                       BK_LOOK_PARALLEL, 180 - BK_LOOK_PARALLEL);
    return BK_OK;
}

bk_status bk_look_prepare(const bk_curve3 *limb, double sod_mm, bk_look_scene *out, bk_err *err)
{
    memset(out, 0, sizeof *out);
    out->sod_mm = sod_mm;
    out->branch_point = limb[0].at[0];
    for (int i = 0; i < BK_LIMBS; i++) {
        const bk_status status = cut(&limb[i], bk_limb_name(i), &out->limb[i], &out->chord[i], err);
        if (status != BK_OK)
            return status;
        for (size_t k = 0; k < limb[i].n; k++)
            if (!(bk_vec_length(limb[i].at[k]) < sod_mm - SOURCE_MM))
                return bk_fail(err, BK_E_DATA, "a point %.0f mm from the isocentre was found with the source at %.0f mm, %g mm between were expected",
                               bk_vec_length(limb[i].at[k]), sod_mm, SOURCE_MM);
    }
    for (int i = 0; i < BK_LIMBS; i++)
        free_parts(out, i);
    for (int i = 0; i < BK_LIMBS; i++)
        firmness(out, limb, i);
    for (int i = 0; i < 514; i++)
        out->normal_cdf[i] = (float)bk_normal_cdf((i - 256) / 64.0);
    return spans_planes(out, err);
}
