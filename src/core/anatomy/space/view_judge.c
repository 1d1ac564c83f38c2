/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/space/view_judge.h"

#include <stdlib.h>

#include "core/num.h"

#define DEG (180 / 3.14159265358979323846)
#define SIGHT_DEG 30.0 /* from an axis of the branching, to be named after it */
#define TURN 1e-3      /* radians: for derivatives by differences */

const char *const bk_purpose_names[BK_PURPOSES] = {"main_vessel", "side_ostium", "carina", "recross"};
const char *const bk_sight_names[4] = {"oblique", "en_face", "profile", "end_on"};

/* The stretch whose overlap matters: whole limbs, or their first 8 mm beyond where limbs are joined. */
static const struct {
    bool limb[BK_LIMBS], near;
} stretches[BK_PURPOSES] = {
    [BK_VIEW_MAIN] = {{true, true, false}, false},
    [BK_VIEW_OSTIUM] = {{false, false, true}, true},
    [BK_VIEW_CARINA] = {{false, true, true}, true},
    [BK_VIEW_RECROSS] = {{false, false, true}, true},
};

bk_branch_axes bk_branch_axes_of(const bk_vec chord[BK_LIMBS])
{
    bk_branch_axes a;
    a.main = bk_vec_unit(bk_vec_sub(chord[BK_DISTAL], chord[BK_PROXIMAL]));
    a.plane = bk_vec_unit(bk_vec_cross(a.main, chord[BK_SIDE]));
    a.mouth = bk_vec_cross(a.plane, a.main);
    a.daughters = bk_vec_unit(bk_vec_cross(chord[BK_DISTAL], chord[BK_SIDE]));
    return a;
}

double bk_view_overlap(const bk_look_scene *scene, const bk_look *look, int purpose)
{
    double covered = 0, total = 0;
    for (int i = 0; i < BK_LIMBS; i++) {
        if (!stretches[purpose].limb[i])
            continue;
        const double length = stretches[purpose].near ? scene->limb[i].near_free_total : scene->limb[i].free_total;
        covered += length * (stretches[purpose].near ? look->near_covered[i] : look->covered[i]);
        total += length;
    }
    return total > 0 ? covered / total : 1; /* joined all along: nothing of it can be seen by itself */
}

double bk_view_loss(const bk_look_scene *scene, const bk_branch_axes *axes, const bk_look *look, int purpose, double overlap_weight)
{
    const double *whole = look->foreshortening, *near = look->near_foreshortening;
    const double near_main = fmax(near[BK_PROXIMAL], near[BK_DISTAL]);
    const double covered = overlap_weight * bk_view_overlap(scene, look, purpose);
    switch (purpose) {
    case BK_VIEW_MAIN:
        return fmax(whole[BK_PROXIMAL], whole[BK_DISTAL]) + covered;
    case BK_VIEW_OSTIUM:
        return fmax(near_main, near[BK_SIDE]) + covered;
    case BK_VIEW_CARINA:
        return 1 - fabs(bk_vec_dot(axes->daughters, look->ray)) + covered;
    default:
        return fmax(1 - fabs(bk_vec_dot(axes->mouth, look->ray)), near_main);
    }
}

/* ---- the branching as it is seen ---- */

typedef struct seen {
    double ostium_deg, distal_side_deg;
} seen;

static bk_vec across(bk_vec a, bk_vec ray)
{
    return bk_vec_along(a, -bk_vec_dot(a, ray), ray);
}

static seen see(const bk_vec chord[BK_LIMBS], bk_vec ray)
{
    const bk_branch_axes axes = bk_branch_axes_of(chord);
    const double to_mouth = bk_vec_angle_deg(axes.mouth, ray);
    return (seen){fmin(to_mouth, 180 - to_mouth), bk_vec_angle_deg(across(chord[BK_DISTAL], ray), across(chord[BK_SIDE], ray))};
}

static int sight_of(const bk_branch_axes *axes, bk_vec ray)
{
    const bk_vec axis[] = {axes->mouth, axes->plane, axes->main};
    static const int name[] = {BK_SIGHT_EN_FACE, BK_SIGHT_PROFILE, BK_SIGHT_END_ON};
    for (int i = 0; i < 3; i++)
        if (fabs(bk_vec_dot(axis[i], ray)) >= cos(SIGHT_DEG / DEG))
            return name[i];
    return BK_SIGHT_OBLIQUE;
}

/* Each limb turns about two axes across it, independently. */
static void describe_branching(const bk_look_scene *scene, bk_vec ray, bk_view *out)
{
    const bk_branch_axes axes = bk_branch_axes_of(scene->chord);
    const seen here = see(scene->chord, ray);
    double ostium = 0, angle = 0;
    for (int i = 0; i < BK_LIMBS; i++) {
        const bk_vec c = scene->chord[i];
        const bk_vec off = fabs(c.v[0]) < 0.7 ? bk_vec_of(1, 0, 0) : bk_vec_of(0, 1, 0);
        const bk_vec first = bk_vec_unit(bk_vec_cross(c, off)), turns[2] = {first, bk_vec_cross(c, first)};
        for (int k = 0; k < 2; k++) {
            bk_vec chord[BK_LIMBS] = {scene->chord[0], scene->chord[1], scene->chord[2]};
            chord[i] = bk_vec_unit(bk_vec_along(c, TURN, turns[k]));
            const seen there = see(chord, ray);
            const double sd = scene->limb[i].direction_sd / TURN;
            ostium += pow(sd * (there.ostium_deg - here.ostium_deg), 2);
            angle += pow(sd * (there.distal_side_deg - here.distal_side_deg), 2);
        }
    }
    out->sight = sight_of(&axes, ray);
    out->ostium_deg = here.ostium_deg;
    out->ostium_sd_deg = sqrt(ostium);
    out->distal_side_deg = here.distal_side_deg;
    out->distal_side_sd_deg = sqrt(angle);
}

/* ---- overlap with its uncertainty: the gaps of a stretch move together, by one common number of SDs ---- */

typedef struct part {
    double z, length;
} part;

static int by_z(const void *a, const void *b)
{
    const part *p = a, *q = b;
    return (p->z > q->z) - (p->z < q->z);
}

static double share_below(const part *parts, int n, double z)
{
    double below = 0, total = 0;
    for (int i = 0; i < n; i++) {
        below += parts[i].z < z ? parts[i].length : 0;
        total += parts[i].length;
    }
    return total > 0 ? below / total : 1;
}

/* Probability that at most this share is covered. */
static double clear_certainty(part *parts, int n, double tolerated)
{
    double total = 0, sum = 0;
    qsort(parts, (size_t)n, sizeof *parts, by_z);
    for (int i = 0; i < n; i++)
        total += parts[i].length;
    for (int i = 0; i < n; i++) {
        sum += parts[i].length;
        if (sum > tolerated * total)
            return bk_normal_cdf(parts[i].z);
    }
    return 0;
}

static void describe_overlap(const bk_look_scene *scene, const bk_look *look, const bk_views_input *input, int purpose, bk_view *out)
{
    part parts[BK_LIMBS * BK_LOOK_PIECES];
    int n = 0;
    for (int i = 0; i < BK_LIMBS; i++) {
        const bk_look_limb *limb = &scene->limb[i];
        part own[BK_LOOK_PIECES];
        int own_n = 0;
        for (int k = 0; k < limb->n; k++) {
            const double z = (double)look->gap_z[i][k];
            const double length = (double)(stretches[purpose].near ? limb->near_free[k] : limb->free_length[k]);
            if (stretches[purpose].limb[i] && length > 0)
                parts[n++] = (part){z, length};
            if (limb->free_length[k] > 0)
                own[own_n++] = (part){z, (double)limb->free_length[k]};
        }
        out->limb_overlap_pct[i] = 100 * share_below(own, own_n, 0);
    }
    const double reach = bk_normal_quantile(0.95);
    out->overlap_pct = 100 * share_below(parts, n, 0);
    out->overlap_low_pct = 100 * share_below(parts, n, -reach);
    out->overlap_high_pct = 100 * share_below(parts, n, reach);
    out->clear_certainty_pct = 100 * clear_certainty(parts, n, input->overlap_tolerated);
}

void bk_view_describe(const bk_look_scene *scene, const bk_views_input *input, int purpose, double primary_deg, double secondary_deg,
                      bk_view *out)
{
    bk_look look;
    bk_look_at(scene, primary_deg, secondary_deg, &look);
    const bk_branch_axes axes = bk_branch_axes_of(scene->chord);
    *out = (bk_view){.primary_deg = primary_deg, .secondary_deg = secondary_deg};
    out->loss = bk_view_loss(scene, &axes, &look, purpose, input->overlap_weight);
    for (int i = 0; i < BK_LIMBS; i++) {
        out->foreshortening_pct[i] = 100 * look.foreshortening[i];
        out->foreshortening_sd_pct[i] = 100 * look.foreshortening_sd[i];
        out->near_foreshortening_pct[i] = 100 * look.near_foreshortening[i];
    }
    describe_branching(scene, look.ray, out);
    describe_overlap(scene, &look, input, purpose, out);
}
