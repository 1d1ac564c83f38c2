/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What lies beside the lumen: guiding catheter, guide wire, vessels that cross in front or behind. */
#include <math.h>

#include "phantom/scene.h"

#define CATHETER_TRIES 40
#define CATHETER_MM 110.0
#define TIP_INSIDE_MM 1.5
#define STRAIGHT_MIN_MM 12.0
#define CLEARANCE_MM 1.5
#define MARGIN_PX 6.0
#define WIRE_RADIUS_MM 0.178 /* 0.014 in */

typedef struct ph_turn {
    double from_mm, to_mm, k;
} ph_turn;

static void turn_bend(const void *context, double s_mm, double k[2])
{
    const ph_turn *turn = context;
    k[0] = s_mm > turn->from_mm && s_mm < turn->to_mm ? turn->k : 0;
    k[1] = 0;
}

static bool inside(const ph_carm *carm, ph_px p)
{
    return p.x >= MARGIN_PX && p.y >= MARGIN_PX && p.x <= carm->cols - 1 - MARGIN_PX &&
           p.y <= carm->rows - 1 - MARGIN_PX;
}

bool ph_catheter_seen(const ph_scene *scene, const ph_carm *carm, double range_mm[2])
{
    const ph_catheter *c = &scene->catheter;
    double from = NAN, to = NAN;
    for (double s = c->straight_mm[0] + 1; s <= c->straight_mm[1]; s += 0.5) {
        if (!inside(carm, ph_carm_project(carm, ph_tube_at(&c->outer, s).c)))
            break;
        from = isnan(from) ? s : from;
        to = s;
    }
    range_mm[0] = from;
    range_mm[1] = to;
    return to - from >= STRAIGHT_MIN_MM;
}

/* The shaft past its tip keeps clear of every limb that is drawn. */
static bool catheter_is_clear(const ph_scene *scene, const ph_carm *carm)
{
    const ph_catheter *c = &scene->catheter;
    for (double s = TIP_INSIDE_MM + 2; s < CATHETER_MM; s += 1.5) {
        const ph_tube_node shaft = ph_tube_at(&c->outer, s);
        const ph_px p = ph_carm_project(carm, shaft.c);
        for (int limb = 0; limb < BK_PHANTOM_LIMBS; limb++) {
            const double end = scene->limb[limb].length_mm - (limb == BK_PHANTOM_PROXIMAL ? 5 : 0);
            for (double t = 0; t < end; t += 1.5) {
                const ph_tube_node node = ph_scene_section(scene, limb, t);
                const ph_px q = ph_carm_project(carm, node.c);
                const double mm = ph_carm_mm_per_px(carm, node.c);
                if (mm * hypot(p.x - q.x, p.y - q.y) < shaft.radius_mm + node.healthy_mm + CLEARANCE_MM)
                    return false;
            }
        }
    }
    return true;
}

static bool catheter_fits(const ph_scene *scene)
{
    for (int i = 0; i < scene->views; i++) {
        const ph_carm carm = ph_carm_for_moved(&scene->view[i].carm, scene->view[i].shift_mm);
        double range[2];
        if (!ph_catheter_seen(scene, &carm, range) || !catheter_is_clear(scene, &carm))
            return false;
        const ph_tube_node node = ph_tube_at(&scene->catheter.outer, range[0]);
        if (fabs(ph_vec_dot(node.t, carm.to_detector)) > 0.6)
            return false;
    }
    return true;
}

static void draw_catheter(ph_catheter *c, double density_per_mm, bk_random *random)
{
    static const int french[] = {5, 6, 6, 6, 7, 8};
    c->french = french[ph_draw_index(random, 6)];
    c->inner_mm = c->french / 3.0 * bk_random_between(random, 0.72, 0.90);
    c->wall_per_mm = bk_random_between(random, 0.10, 0.22);
    c->filled = bk_random_unit(random) < 0.75;
    c->fill_per_mm = c->filled ? density_per_mm * bk_random_between(random, 1.0, 1.2) : 0;
}

/* Copy the axis with another radius. */
static bk_status line_with(const ph_tube *axis, double radius_mm, bk_arena *arena, ph_tube *out, bk_err *err)
{
    out->node = BK_NEW(arena, axis->n, ph_tube_node, err);
    if (!out->node)
        return err->status;
    out->n = axis->n;
    out->first_mm = axis->first_mm;
    for (size_t i = 0; i < axis->n; i++) {
        out->node[i] = axis->node[i];
        out->node[i].radius_mm = out->node[i].healthy_mm = radius_mm;
    }
    return BK_OK;
}

/* From the tip inside the proximal end: on along the vessel, then one bend in the picture plane, then
 * straight. */
static bk_status lay_catheter(ph_scene *scene, bk_random *random, bk_arena *arena, bk_err *err)
{
    ph_catheter *c = &scene->catheter;
    const double tip = scene->limb[BK_PHANTOM_PROXIMAL].length_mm - TIP_INSIDE_MM;
    const ph_tube_node at = ph_scene_section(scene, BK_PHANTOM_PROXIMAL, tip);
    const double radius = bk_random_between(random, 10, 25);
    const double turn_deg = bk_random_between(random, -110, 110);
    const double straight_from = 5 + radius * fabs(turn_deg) * PH_RAD;
    const ph_turn turn = {5, straight_from, (turn_deg < 0 ? -1 : 1) / radius};
    const ph_vec out = ph_vec_times(-1, at.t);
    const ph_vec in_plane = ph_vec_cross(scene->view[0].carm.to_detector, out);
    const ph_tube_start start = {
        ph_scene_centre(scene, BK_PHANTOM_PROXIMAL, tip), out, in_plane, 0, CATHETER_MM, turn_bend, &turn};
    if (ph_tube_lay(&start, arena, &c->outer, err) != BK_OK)
        return err->status;
    for (size_t i = 0; i < c->outer.n; i++)
        c->outer.node[i].radius_mm = c->outer.node[i].healthy_mm = c->french / 6.0;
    c->straight_mm[0] = straight_from;
    c->straight_mm[1] = CATHETER_MM;
    return BK_OK;
}

static bk_status place_catheter(ph_scene *scene, bk_random *random, bk_arena *arena, bool *fits, bk_err *err)
{
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    draw_catheter(&scene->catheter, scene->options.density_per_mm, random);
    *fits = false;
    for (int i = 0; i < CATHETER_TRIES && !*fits; i++) {
        bk_arena_rewind(arena, mark);
        if (lay_catheter(scene, random, arena, err) != BK_OK)
            return err->status;
        *fits = catheter_fits(scene);
    }
    scene->has_catheter = *fits;
    return *fits ? line_with(&scene->catheter.outer, 0.5 * scene->catheter.inner_mm, arena,
                             &scene->catheter.inner, err)
                 : BK_OK;
}

/* ---- wire ---- */

/* A wire lies off centre: half way to the wall. */
static ph_vec wire_point(const ph_scene *scene, int limb, double s_mm)
{
    const ph_tube_node node = ph_scene_section(scene, limb, s_mm);
    const double room = node.radius_mm / node.stretch - 1.5 * WIRE_RADIUS_MM;
    return ph_vec_along(ph_scene_centre(scene, limb, s_mm), room > 0 ? 0.5 * room : 0, node.n);
}

/* Round the corner at the branch with a cubic from 5 mm before to 6 mm after it. */
static ph_vec wire_corner(const ph_scene *scene, int limb, double f)
{
    const ph_vec a = wire_point(scene, BK_PHANTOM_PROXIMAL, 5), d = wire_point(scene, limb, 6);
    const ph_vec b = ph_vec_along(a, 4, ph_scene_section(scene, BK_PHANTOM_PROXIMAL, 5).t);
    const ph_vec c = ph_vec_along(d, -4, ph_scene_section(scene, limb, 6).t);
    const ph_vec p = ph_vec_mix(a, b, f), q = ph_vec_mix(b, c, f), r = ph_vec_mix(c, d, f);
    return ph_vec_mix(ph_vec_mix(p, q, f), ph_vec_mix(q, r, f), f);
}

static bk_status lay_wire(ph_scene *scene, bk_arena *arena, bk_err *err)
{
    const double before = scene->limb[BK_PHANTOM_PROXIMAL].length_mm - TIP_INSIDE_MM;
    const double after = scene->limb[scene->wire_limb].length_mm - 8;
    const double step = 0.1;
    const size_t n = (size_t)((before - 5) / step) + 120 + (size_t)((after - 6) / step);
    ph_vec *points = BK_NEW(arena, n, ph_vec, err);
    if (!points)
        return err->status;
    size_t i = 0;
    for (double s = before; s > 5 && i < n; s -= step)
        points[i++] = wire_point(scene, BK_PHANTOM_PROXIMAL, s);
    for (int j = 0; j < 110 && i < n; j++)
        points[i++] = wire_corner(scene, scene->wire_limb, j / 110.0);
    for (double s = 6; i < n; s += step)
        points[i++] = wire_point(scene, scene->wire_limb, s);
    return ph_tube_through(points, n, WIRE_RADIUS_MM, arena, &scene->wire, err);
}

/* ---- crossing vessels ---- */

static void gentle_bend(const void *context, double s_mm, double k[2])
{
    const double *size = context;
    k[0] = size[0] * sin(s_mm / 9 + size[1]);
    k[1] = 0;
}

/* Cross a limb at 40-90 degrees in view 1, 12-30 mm in front of or behind it, away from branch and throat. */
static bk_status lay_crossing(ph_scene *scene, bk_random *random, bk_arena *arena, ph_tube *out, bk_err *err)
{
    const int limb = ph_draw_index(random, BK_PHANTOM_LIMBS);
    const ph_limb *l = &scene->limb[limb];
    double s = bk_random_between(random, 7, l->click_mm - 2);
    for (int i = 0; i < 20 && l->lesion.present && fabs(s - l->lesion.throat_mm) < 3; i++)
        s = bk_random_between(random, 7, l->click_mm - 2);
    const ph_vec depth = scene->view[0].carm.to_detector;
    const ph_tube_node at = ph_scene_section(scene, limb, s);
    const double deep = bk_random_between(random, 12, 30) * (bk_random_unit(random) < 0.5 ? -1 : 1);
    const double angle = bk_random_between(random, 40, 140) * PH_RAD;
    const ph_vec flat = ph_vec_unit(ph_vec_along(at.t, -ph_vec_dot(at.t, depth), depth));
    const ph_vec across = ph_vec_cross(depth, flat);
    const ph_vec way = ph_vec_along(ph_vec_times(cos(angle), flat), sin(angle), across);
    const double bend[2] = {bk_random_between(random, 0.005, 0.025), bk_random_between(random, 0, 2 * PH_PI)};
    const double radius = bk_random_between(random, 0.4, 0.9);
    const ph_tube_start start = {
        ph_vec_along(at.c, deep, depth), way, ph_vec_cross(depth, way), -45, 45, gentle_bend, bend};
    if (ph_tube_lay(&start, arena, out, err) != BK_OK)
        return err->status;
    for (size_t i = 0; i < out->n; i++) {
        const double x = (out->first_mm + (double)i * PH_TUBE_STEP_MM) / 45;
        out->node[i].radius_mm = out->node[i].healthy_mm = radius * (1 - 0.3 * x);
    }
    return BK_OK;
}

bk_status ph_scene_draw_devices(ph_scene *scene, bk_random *random, bk_arena *arena, bool *fits, bk_err *err)
{
    if (place_catheter(scene, random, arena, fits, err) != BK_OK || !*fits)
        return err->status;
    scene->wire_limb = bk_random_unit(random) < 0.5 ? BK_PHANTOM_SIDE : BK_PHANTOM_DISTAL;
    scene->has_wire = scene->options.wire;
    if (scene->has_wire && lay_wire(scene, arena, err) != BK_OK)
        return err->status;
    const int n = 1 + ph_draw_index(random, PH_CROSSING_MAX);
    scene->crossings = scene->options.crossing ? n : 0;
    for (int i = 0; i < scene->crossings; i++)
        if (lay_crossing(scene, random, arena, &scene->crossing[i], err) != BK_OK)
            return err->status;
    return BK_OK;
}
