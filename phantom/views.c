/* SPDX-License-Identifier: GPL-3.0-or-later */
/* C-arm positions, and whether they show the bifurcation clearly enough to be measured at all. */
#include <math.h>

#include "base/number.h"
#include "phantom/scene.h"

#define PRIMARY_DEG 60.0
#define SECONDARY_DEG 40.0
#define APART_MIN_DEG 35.0
#define APART_MAX_DEG 90.0
#define FORESHORTENING_MAX 0.40 /* of a limb's measured range */
#define TILT_MAX 0.80       /* sine of the axis out of the picture plane, anywhere in the measured range */
#define SPREAD_MIN_DEG 28.0 /* between the side branch and either main limb, as projected */
#define MARGIN_PX 10.0
#define GAP_MIN_MM 0.5 /* between the outlines of two limbs once they have parted */
#define CHORD_MM 8.0
#define LOOP_MM 15.0 /* so far from the branch a limb has no business near it */

static void draw_angles(ph_carm *carm, bk_random *random)
{
    carm->primary_deg = bk_random_between(random, -PRIMARY_DEG, PRIMARY_DEG);
    carm->secondary_deg = bk_random_between(random, -SECONDARY_DEG, SECONDARY_DEG);
    /* a file holds tenths of a degree and of a millimetre: the truth is made of what the file says */
    carm->primary_deg = bk_round_to(carm->primary_deg, 1);
    carm->secondary_deg = bk_round_to(carm->secondary_deg, 1);
    ph_carm_set(carm);
}

static ph_vec draw_unit(bk_random *random)
{
    ph_vec v = {bk_random_normal(random), bk_random_normal(random), bk_random_normal(random)};
    return ph_vec_unit(v);
}

void ph_scene_draw_views(ph_scene *scene, bk_random *random)
{
    const bool fine = scene->options.size == 1024;
    const double spacing =
        bk_round_to(fine ? bk_random_between(random, 0.14, 0.19) : bk_random_between(random, 0.28, 0.36), 4);
    const double sod = bk_round_to(bk_random_between(random, 700, 800), 1);
    scene->views = scene->options.two_views ? 2 : 1;
    for (int i = 0; i < PH_VIEWS_MAX; i++) {
        ph_carm *carm = &scene->view[i].carm;
        carm->rows = carm->cols = scene->options.size;
        carm->spacing_mm = spacing;
        carm->sod_mm = sod;
        carm->sid_mm = bk_round_to(bk_random_between(random, 900, 1200), 1);
        draw_angles(carm, random);
    }
    const ph_vec first = scene->view[0].carm.to_detector;
    for (;;) {
        const double apart = ph_vec_angle_deg(first, scene->view[1].carm.to_detector);
        if (apart >= APART_MIN_DEG && apart <= APART_MAX_DEG)
            break;
        draw_angles(&scene->view[1].carm, random);
    }
    scene->view[0].shift_mm = (ph_vec){0, 0, 0};
    scene->view[1].shift_mm = ph_vec_times(scene->options.shift_mm, draw_unit(random));
}

static bool inside(const ph_carm *carm, ph_px p)
{
    return p.x >= MARGIN_PX && p.y >= MARGIN_PX && p.x <= carm->cols - 1 - MARGIN_PX &&
           p.y <= carm->rows - 1 - MARGIN_PX;
}

static double apart_px(ph_px a, ph_px b)
{
    return hypot(a.x - b.x, a.y - b.y);
}

/* Inside the picture as far as the click (the proximal limb to its end, where the catheter sits) and seen
   from the side rather than along the axis. */
static bool limb_is_seen(const ph_scene *scene, const ph_carm *carm, int limb)
{
    const ph_limb *l = &scene->limb[limb];
    const double end = limb == BK_PHANTOM_PROXIMAL ? l->length_mm : l->click_mm;
    double seen_mm = 0;
    ph_vec before = scene->branch;
    for (double s = 0; s <= end; s += 1) {
        const ph_tube_node node = ph_scene_section(scene, limb, s);
        if (!inside(carm, ph_carm_project(carm, node.c)))
            return false;
        if (s > l->click_mm)
            continue;
        const ph_vec ray = ph_vec_unit(ph_vec_sub(node.c, carm->source));
        if (fabs(ph_vec_dot(node.t, ray)) > TILT_MAX)
            return false;
        const ph_vec step = ph_vec_sub(node.c, before);
        seen_mm += ph_vec_length(ph_vec_cross(step, ray));
        before = node.c;
    }
    return seen_mm >= (1 - FORESHORTENING_MAX) * floor(l->click_mm);
}

static double spread_deg(const ph_scene *scene, const ph_carm *carm, int a, int b)
{
    const ph_px o = ph_carm_project(carm, scene->branch);
    const ph_px p = ph_carm_project(carm, ph_scene_centre(scene, a, CHORD_MM));
    const ph_px q = ph_carm_project(carm, ph_scene_centre(scene, b, CHORD_MM));
    return ph_vec_angle_deg((ph_vec){p.x - o.x, p.y - o.y, 0}, (ph_vec){q.x - o.x, q.y - o.y, 0});
}

/* Once two limbs have parted they must stay apart, as far as one of them is measured. */
static bool limbs_stay_apart(const ph_scene *scene, const ph_carm *carm, int a, int b)
{
    const double spread = spread_deg(scene, carm, a, b);
    if (spread < SPREAD_MIN_DEG)
        return false;
    const ph_limb *la = &scene->limb[a], *lb = &scene->limb[b];
    const double parted = 0.5 * (la->reference_mm + lb->reference_mm) / (2 * sin(0.5 * spread * PH_RAD));
    const double free_from = 1.3 * parted + 1;
    for (double s = 0; s < la->length_mm; s += 1)
        for (double t = 0; t < lb->length_mm; t += 1) {
            const bool joined = fmin(s, t) < free_from && fmax(s, t) < LOOP_MM;
            if (joined || (s > la->click_mm && t > lb->click_mm))
                continue;
            const ph_tube_node p = ph_scene_section(scene, a, s), q = ph_scene_section(scene, b, t);
            const double mm = ph_carm_mm_per_px(carm, p.c);
            const double between = mm * apart_px(ph_carm_project(carm, p.c), ph_carm_project(carm, q.c));
            if (between - p.healthy_mm - q.healthy_mm < GAP_MIN_MM)
                return false;
        }
    return true;
}

bool ph_scene_is_clear(const ph_scene *scene)
{
    for (int i = 0; i < scene->views; i++) {
        const ph_carm carm = ph_carm_for_moved(&scene->view[i].carm, scene->view[i].shift_mm);
        for (int limb = 0; limb < BK_PHANTOM_LIMBS; limb++)
            if (!limb_is_seen(scene, &carm, limb))
                return false;
        if (!limbs_stay_apart(scene, &carm, BK_PHANTOM_DISTAL, BK_PHANTOM_SIDE) ||
            !limbs_stay_apart(scene, &carm, BK_PHANTOM_PROXIMAL, BK_PHANTOM_SIDE) ||
            !limbs_stay_apart(scene, &carm, BK_PHANTOM_PROXIMAL, BK_PHANTOM_DISTAL))
            return false;
    }
    return true;
}
