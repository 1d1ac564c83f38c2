/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The lumen in space: axes, widths, density. */
#include <math.h>

#include "phantom/scene.h"

#define DEPTH_MM 12.0
#define LATERAL_MM 10.0
#define END_DIAMETER_MM 0.7 /* of the vessels where they are lost from sight */

static double wave_sum(const double size[2], const double wave_mm[2], const double phase[2], double s_mm)
{
    double sum = 0;
    for (int j = 0; j < 2; j++)
        sum += size[j] * sin(2 * PH_PI * s_mm / wave_mm[j] + phase[j]);
    return sum;
}

static void bend_pair(const void *context, double s_mm, double k[2])
{
    const ph_bend *bend = context;
    for (int i = 0; i < 2; i++)
        k[i] = bend[i].constant + wave_sum(bend[i].size, bend[i].wave_mm, bend[i].phase, s_mm);
}

/* Radius of curvature 20 mm at the tightest, typically 50 mm. */
static void draw_bends(ph_bend bend[2], bk_random *random)
{
    for (int i = 0; i < 2; i++) {
        bend[i].constant = bk_random_between(random, -0.016, 0.016);
        for (int j = 0; j < 2; j++) {
            bend[i].size[j] = bk_random_between(random, 0, 0.017);
            bend[i].wave_mm[j] = bk_random_between(random, 30, 90);
            bend[i].phase[j] = bk_random_between(random, 0, 2 * PH_PI);
        }
    }
}

/* ---- widths ---- */

static double smooth_step(double x)
{
    x = x < 0 ? 0 : x > 1 ? 1 : x;
    return x * x * (3 - 2 * x);
}

double ph_scene_reference_mm(const ph_scene *scene, int limb, double s_mm)
{
    const ph_limb *l = &scene->limb[limb];
    return l->reference_mm + (limb == BK_PHANTOM_PROXIMAL ? l->taper : -l->taper) * s_mm;
}

/* The lumen without lesions: the reference; a funnel from the mother's width inside the core on the distal
   side; and past the measured range a fall to the width of a small vessel. */
static double healthy_diameter_mm(const ph_scene *scene, int limb, double s_mm)
{
    double d = ph_scene_reference_mm(scene, limb, s_mm);
    const double mother = scene->limb[BK_PHANTOM_PROXIMAL].reference_mm;
    if (limb == BK_PHANTOM_DISTAL)
        d = mother + (d - mother) * smooth_step(s_mm / (0.45 * mother));
    if (limb == BK_PHANTOM_PROXIMAL)
        return d;
    const double from = scene->limb[limb].click_mm + 3;
    const double fall = smooth_step((s_mm - from) / (scene->limb[limb].length_mm - from));
    return d + (END_DIAMETER_MM - d) * fall;
}

static double lesion_weight(const ph_lesion *lesion, double s_mm)
{
    if (!lesion->present)
        return 0;
    const double x = s_mm - lesion->throat_mm;
    const double half = x < 0 ? lesion->before_mm : lesion->after_mm;
    return fabs(x) < half ? 0.5 * (1 + cos(PH_PI * x / half)) : 0;
}

static void shape_node(const ph_scene *scene, int limb, double s_mm, ph_tube_node *node)
{
    const ph_lesion *lesion = &scene->limb[limb].lesion;
    const double weight = lesion_weight(lesion, s_mm);
    node->healthy_mm = 0.5 * healthy_diameter_mm(scene, limb, s_mm);
    node->radius_mm = node->healthy_mm * (1 - 0.01 * lesion->stenosis_pct * weight);
    const double off = lesion->eccentricity * (node->healthy_mm - node->radius_mm);
    node->off_n_mm = off * cos(lesion->toward_rad);
    node->off_b_mm = off * sin(lesion->toward_rad);
    node->stretch = 1 / sqrt(1 - (1 - lesion->ratio) * weight);
    node->cos_e = cos(lesion->ellipse_rad);
    node->sin_e = sin(lesion->ellipse_rad);
}

static void shape_tube(const ph_scene *scene, int ahead_limb, ph_tube *tube)
{
    for (size_t i = 0; i < tube->n; i++) {
        const double s = tube->first_mm + (double)i * PH_TUBE_STEP_MM;
        shape_node(scene, s < 0 ? BK_PHANTOM_PROXIMAL : ahead_limb, fabs(s), &tube->node[i]);
    }
}

static bk_status copy_healthy(const ph_tube *from, bk_arena *arena, ph_tube *to, bk_err *err)
{
    to->node = BK_NEW(arena, from->n, ph_tube_node, err);
    if (!to->node)
        return err->status;
    to->n = from->n;
    to->first_mm = from->first_mm;
    for (size_t i = 0; i < to->n; i++) {
        to->node[i] = from->node[i];
        to->node[i].radius_mm = from->node[i].healthy_mm;
        to->node[i].off_n_mm = to->node[i].off_b_mm = 0;
        to->node[i].stretch = 1;
    }
    return BK_OK;
}

/* ---- axes ---- */

/* A direction given in view 1: degrees in the picture (0 = right, 90 = up) and towards the detector. */
static ph_vec seen_direction(const ph_carm *carm, double in_plane_deg, double toward_deg)
{
    const double a = in_plane_deg * PH_RAD, e = toward_deg * PH_RAD;
    ph_vec v = ph_vec_times(cos(e) * cos(a), carm->right);
    v = ph_vec_along(v, cos(e) * sin(a), carm->up);
    return ph_vec_along(v, sin(e), carm->to_detector);
}

static void draw_directions(ph_scene *scene, bk_random *random, ph_vec *distal, ph_vec *side)
{
    const ph_carm *carm = &scene->view[0].carm;
    ph_vec at = ph_vec_times(bk_random_between(random, -DEPTH_MM, DEPTH_MM), carm->to_detector);
    at = ph_vec_along(at, bk_random_between(random, -LATERAL_MM, LATERAL_MM), carm->right);
    scene->branch = ph_vec_along(at, bk_random_between(random, -LATERAL_MM, LATERAL_MM), carm->up);
    const double down = -90 + bk_random_between(random, -55, 55);
    *distal = seen_direction(carm, down, bk_random_between(random, -28, 28));
    scene->carina_deg = bk_random_between(random, 30, 90);
    const double hand = bk_random_unit(random) < 0.5 ? -1 : 1;
    const double roll = bk_random_between(random, -28, 28) * PH_RAD;
    const ph_vec across = ph_vec_times(hand, ph_vec_unit(ph_vec_cross(carm->to_detector, *distal)));
    const ph_vec out = ph_vec_cross(*distal, across);
    const ph_vec away = ph_vec_along(ph_vec_times(cos(roll), across), sin(roll), out);
    const double angle = scene->carina_deg * PH_RAD;
    *side = ph_vec_along(ph_vec_times(cos(angle), *distal), sin(angle), away);
}

bk_status ph_scene_draw_tree(ph_scene *scene, bk_random *random, bk_arena *arena, bk_err *err)
{
    ph_vec distal, side;
    ph_bend main_bend[2], side_bend[2];
    draw_directions(scene, random, &distal, &side);
    draw_bends(main_bend, random);
    draw_bends(side_bend, random);
    const ph_vec across = scene->view[0].carm.to_detector;
    const ph_limb *limb = scene->limb;
    const ph_tube_start main_start = {scene->branch,
                                      distal,
                                      across,
                                      -limb[BK_PHANTOM_PROXIMAL].length_mm,
                                      limb[BK_PHANTOM_DISTAL].length_mm,
                                      bend_pair,
                                      main_bend};
    const ph_tube_start side_start = {scene->branch, side,     across, 0, limb[BK_PHANTOM_SIDE].length_mm,
                                      bend_pair,     side_bend};
    if (ph_tube_lay(&main_start, arena, &scene->main, err) != BK_OK ||
        ph_tube_lay(&side_start, arena, &scene->side, err) != BK_OK)
        return err->status;
    shape_tube(scene, BK_PHANTOM_DISTAL, &scene->main);
    shape_tube(scene, BK_PHANTOM_SIDE, &scene->side);
    return copy_healthy(&scene->main, arena, &scene->healthy_main, err) != BK_OK
               ? err->status
               : copy_healthy(&scene->side, arena, &scene->healthy_side, err);
}

/* ---- looking at the lumen ---- */

ph_bundle ph_scene_lumen(const ph_scene *scene, bool healthy)
{
    return (ph_bundle){
        {healthy ? &scene->healthy_main : &scene->main, healthy ? &scene->healthy_side : &scene->side},
        2,
        scene->blend_mm};
}

ph_tube_node ph_scene_section(const ph_scene *scene, int limb, double s_mm)
{
    if (limb == BK_PHANTOM_SIDE)
        return ph_tube_at(&scene->side, s_mm);
    return ph_tube_at(&scene->main, limb == BK_PHANTOM_PROXIMAL ? -s_mm : s_mm);
}

ph_vec ph_scene_centre(const ph_scene *scene, int limb, double s_mm)
{
    if (limb == BK_PHANTOM_SIDE)
        return ph_tube_centre(&scene->side, s_mm);
    return ph_tube_centre(&scene->main, limb == BK_PHANTOM_PROXIMAL ? -s_mm : s_mm);
}

double ph_scene_filling(const ph_scene *scene, int limb, double s_mm, const ph_moment *moment)
{
    const double start = scene->limb[BK_PHANTOM_PROXIMAL].length_mm;
    const double way = limb == BK_PHANTOM_PROXIMAL ? start - s_mm : start + s_mm;
    return moment->strength / (1 + exp((way - moment->front_mm) / moment->front_width_mm));
}

double ph_scene_density(const ph_scene *scene, ph_place place, const ph_moment *moment)
{
    const int limb = place.tube == 1  ? BK_PHANTOM_SIDE
                     : place.s_mm < 0 ? BK_PHANTOM_PROXIMAL
                                      : BK_PHANTOM_DISTAL;
    const double s = fabs(place.s_mm);
    const ph_density *d = &scene->density[limb];
    const double waves =
        wave_sum(d->size, d->wave_mm, d->phase, s) - wave_sum(d->size, d->wave_mm, d->phase, 0);
    return d->per_mm * (1 + waves) * ph_scene_filling(scene, limb, s, moment);
}

const ph_moment *ph_scene_best(const ph_scene *scene)
{
    return &scene->moment[scene->best_frame - 1];
}

ph_carm ph_scene_carm(const ph_scene *scene, int view, const ph_moment *moment)
{
    const ph_view *v = &scene->view[view];
    return ph_carm_for_moved(&v->carm, ph_vec_add(v->shift_mm, moment->moved_mm));
}
