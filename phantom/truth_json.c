/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The truth document, schema "branchkeep.truth/1". Fields are explained in docs/methods/phantom.md. */
#include <math.h>
#include <stdio.h>

#include "base/number.h"
#include "phantom/truth.h"

#define PROFILE_STEP 4 /* samples of 0.05 mm */
#define SPACE_STEP_MM 0.5

static const char *const limb_names[BK_PHANTOM_LIMBS] = {"proximal", "distal", "side"};

static void put_px(bk_json *object, const char *key, ph_px p)
{
    bk_json_put_reals(object, key, (double[]){p.x, p.y}, 2, 4);
}

static void put_vec(bk_json *object, const char *key, ph_vec v)
{
    bk_json_put_reals(object, key, (double[]){v.x, v.y, v.z}, 3, 4);
}

static void put_profile(bk_json *segment, const ph_limb_truth *t)
{
    const struct {
        const char *key;
        const double *column;
    } columns[] = {{"position_mm", t->position_mm},
                   {"space_mm", t->space_mm},
                   {"x_px", t->x_px},
                   {"y_px", t->y_px},
                   {"diameter_mm", t->width_mm},
                   {"area_diameter_mm", t->area_mm},
                   {"reference_mm", t->reference_mm},
                   {"mm_per_px", t->mm_per_px}};
    bk_json *profile = bk_json_object();
    for (size_t i = 0; i < sizeof columns / sizeof columns[0]; i++) {
        bk_json *array = bk_json_array();
        for (size_t j = 0; j < t->n; j += PROFILE_STEP)
            bk_json_push(array, bk_json_new_real(round(columns[i].column[j] * 1e5) / 1e5));
        bk_json_put(profile, columns[i].key, array);
    }
    bk_json_put(segment, "profile", profile);
}

static void put_lesion(bk_json *segment, const ph_limb *limb, const ph_limb_truth *t)
{
    const bool seen = !isnan(t->lesion_mm[0]);
    bk_json_put_real(segment, "lesion_length_mm", bk_round_to(t->lesion_mm[1] - t->lesion_mm[0], 4));
    if (seen)
        bk_json_put_reals(segment, "lesion", t->lesion_mm, 2, 4);
    else
        bk_json_put_null(segment, "lesion");
    if (!limb->lesion.present) {
        bk_json_put_null(segment, "made");
        return;
    }
    const ph_lesion *l = &limb->lesion;
    bk_json *made = bk_json_object();
    bk_json_put_text(made, "class", l->ostial ? "ostial" : "in_limb");
    bk_json_put_fixed(made, "stenosis_pct", l->stenosis_pct, 4);
    bk_json_put_fixed(made, "throat_space_mm", l->throat_mm, 4);
    bk_json_put_reals(made, "support_space_mm",
                      (double[]){l->throat_mm - l->before_mm, l->throat_mm + l->after_mm}, 2, 4);
    bk_json_put_fixed(made, "length_space_mm", l->before_mm + l->after_mm, 4);
    bk_json_put_fixed(made, "eccentricity", l->eccentricity, 4);
    bk_json_put_fixed(made, "axis_ratio", l->ratio, 4);
    bk_json_put(segment, "made", made);
}

static bk_json *segment_json(const ph_limb *limb, const ph_limb_truth *t)
{
    bk_json *s = bk_json_object();
    bk_json_put_fixed(s, "reference_mm", t->mld_reference_mm, 4);
    bk_json_put_fixed(s, "mld_mm", t->mld_mm, 4);
    bk_json_put_fixed(s, "stenosis_pct", ph_truth_stenosis_pct(t->mld_mm, t->mld_reference_mm), 3);
    bk_json_put_fixed(s, "mld_position_mm", t->mld_at_mm, 4);
    bk_json_put_fixed(s, "mld_mm_per_px", t->mld_mm_per_px, 6);
    bk_json_put_fixed(s, "area_mld_mm", t->area_mld_mm, 4);
    const double by_area = ph_truth_stenosis_pct(t->area_mld_mm, t->area_reference_mm);
    bk_json_put_fixed(s, "area_diameter_stenosis_pct", by_area, 3);
    bk_json_put_fixed(s, "area_stenosis_pct", 100 * (1 - pow(1 - 0.01 * by_area, 2)), 3);
    bk_json_put_fixed(s, "ostium_position_mm", t->ostium_mm, 4);
    bk_json_put_fixed(s, "ostial_mm", t->ostial_mm, 4);
    bk_json_put_fixed(s, "length_mm", t->length_mm, 4);
    bk_json_put_fixed(s, "length_space_mm", t->length_space_mm, 4);
    bk_json_put_fixed(s, "foreshortening_pct", t->foreshortening_pct, 3);
    put_lesion(s, limb, t);
    put_profile(s, t);
    return s;
}

static bk_json *geometry_json(const ph_scene *scene, int view)
{
    const ph_carm *c = &scene->view[view].carm;
    bk_json *g = bk_json_object();
    bk_json_put_fixed(g, "primary_deg", c->primary_deg, 1);
    bk_json_put_fixed(g, "secondary_deg", c->secondary_deg, 1);
    bk_json_put_fixed(g, "sid_mm", c->sid_mm, 1);
    bk_json_put_fixed(g, "sod_mm", c->sod_mm, 1);
    bk_json_put_fixed(g, "imager_spacing_mm", c->spacing_mm, 4);
    bk_json_put_integer(g, "rows", c->rows);
    bk_json_put_integer(g, "cols", c->cols);
    put_vec(g, "anatomy_shift_mm", scene->view[view].shift_mm);
    return g;
}

static void put_catheter(bk_json *v, const ph_scene *scene, int view)
{
    const ph_catheter *c = &scene->catheter;
    const ph_carm carm = ph_carm_for_moved(&scene->view[view].carm, scene->view[view].shift_mm);
    double range[2];
    if (!scene->has_catheter || !ph_catheter_seen(scene, &carm, range)) {
        bk_json_put_null(v, "catheter");
        return;
    }
    const ph_vec from = ph_tube_at(&c->outer, range[0]).c, to = ph_tube_at(&c->outer, range[1]).c;
    const ph_px a = ph_carm_project(&carm, from), b = ph_carm_project(&carm, to);
    bk_json *j = bk_json_object();
    bk_json_put_fixed(j, "x1", a.x, 3);
    bk_json_put_fixed(j, "y1", a.y, 3);
    bk_json_put_fixed(j, "x2", b.x, 3);
    bk_json_put_fixed(j, "y2", b.y, 3);
    bk_json_put_integer(j, "french", c->french);
    bk_json_put_text(j, "filled", c->filled ? "yes" : "no");
    bk_json_put_fixed(j, "outer_mm", c->french / 3.0, 4);
    bk_json_put_fixed(j, "inner_mm", c->inner_mm, 4);
    bk_json_put_fixed(j, "mm_per_px", ph_carm_mm_per_px(&carm, ph_vec_mix(from, to, 0.5)), 6);
    bk_json_put(v, "catheter", j);
}

static bk_json *clicks_json(const ph_view_truth *t)
{
    bk_json *clicks = bk_json_object();
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++) {
        const size_t end = t->limb[i].n - 1;
        put_px(clicks, limb_names[i], (ph_px){t->limb[i].x_px[end], t->limb[i].y_px[end]});
    }
    return clicks;
}

static bk_json *core_json(const ph_scene *scene, const ph_view_truth *t)
{
    const double mother = scene->limb[BK_PHANTOM_PROXIMAL].reference_mm, d = 2 * t->core.radius_mm;
    bk_json *core = bk_json_object();
    bk_json_put_fixed(core, "diameter_mm", d, 4);
    put_px(core, "centre_px", t->core.centre_px);
    bk_json_put_fixed(core, "healthy_diameter_mm", 2 * t->healthy_core.radius_mm, 4);
    bk_json_put_fixed(core, "stenosis_pct", fmax(0, ph_truth_stenosis_pct(d, mother)), 3);
    bk_json_put_fixed(core, "stenosis_of_healthy_pct",
                      fmax(0, ph_truth_stenosis_pct(t->core.radius_mm, t->healthy_core.radius_mm)), 3);
    return core;
}

static bk_json *angles_json(double distal_side, double proximal_side, double proximal_distal)
{
    bk_json *a = bk_json_object();
    bk_json_put_fixed(a, "distal_side_deg", distal_side, 3);
    bk_json_put_fixed(a, "proximal_side_deg", proximal_side, 3);
    bk_json_put_fixed(a, "proximal_distal_deg", proximal_distal, 3);
    return a;
}

static bk_json *medina_json(const ph_view_truth *t)
{
    char text[8];
    snprintf(text, sizeof text, "%d,%d,%d", ph_truth_medina(&t->limb[0]), ph_truth_medina(&t->limb[1]),
             ph_truth_medina(&t->limb[2]));
    return bk_json_new_text(text);
}

/* Where each frame shows the branch, and how full the limbs are. */
static bk_json *frames_json(const ph_scene *scene, int view, const ph_view_truth *t)
{
    bk_json *frames = bk_json_array();
    for (int32_t i = 0; i < scene->options.frames; i++) {
        const ph_moment *m = &scene->moment[i];
        const ph_carm carm = ph_scene_carm(scene, view, m);
        const ph_px p = ph_carm_project(&carm, scene->branch);
        double filling[BK_PHANTOM_LIMBS];
        for (int j = 0; j < BK_PHANTOM_LIMBS; j++)
            filling[j] = ph_scene_filling(scene, j, scene->limb[j].click_mm, m);
        bk_json *f = bk_json_object();
        bk_json_put_integer(f, "frame", i + 1);
        bk_json_put_fixed(f, "time_ms", m->time_ms, 2);
        bk_json_put_fixed(f, "phase_pct", m->phase_pct, 2);
        bk_json_put_reals(f, "moved_px", (double[]){p.x - t->branch_px.x, p.y - t->branch_px.y}, 2, 3);
        bk_json_put_reals(f, "filling", filling, BK_PHANTOM_LIMBS, 4);
        bk_json_push(frames, f);
    }
    return frames;
}

static bk_json *crossings_json(const ph_scene *scene, const ph_carm *carm)
{
    bk_json *all = bk_json_array();
    for (int i = 0; i < scene->crossings; i++)
        for (int limb = 0; limb < BK_PHANTOM_LIMBS; limb++) {
            double least = INFINITY, at = 0;
            for (double s = 0; s < scene->limb[limb].click_mm; s += 0.5)
                for (double u = scene->crossing[i].first_mm; u < ph_tube_last_mm(&scene->crossing[i]);
                     u += 0.5) {
                    const ph_px p = ph_carm_project(carm, ph_scene_centre(scene, limb, s));
                    const ph_px q = ph_carm_project(carm, ph_tube_at(&scene->crossing[i], u).c);
                    if (hypot(p.x - q.x, p.y - q.y) < least) {
                        least = hypot(p.x - q.x, p.y - q.y);
                        at = s;
                    }
                }
            if (least * ph_carm_mm_per_px(carm, scene->branch) > 1)
                continue;
            bk_json *one = bk_json_object();
            bk_json_put_text(one, "limb", limb_names[limb]);
            bk_json_put_fixed(one, "space_mm", at, 1);
            bk_json_push(all, one);
        }
    return all;
}

static bk_json *view_json(const ph_scene *scene, int view, const ph_view_truth *t)
{
    char file[24];
    snprintf(file, sizeof file, "view%d.dcm", view + 1);
    const ph_carm carm = ph_scene_carm(scene, view, ph_scene_best(scene));
    bk_json *v = bk_json_object();
    bk_json_put_text(v, "file", file);
    bk_json_put_integer(v, "frame", scene->best_frame);
    bk_json_put(v, "geometry", geometry_json(scene, view));
    bk_json_put_fixed(v, "mm_per_px", t->mm_per_px, 6);
    bk_json_put_fixed(v, "mm_per_px_isocentre", t->mm_per_px_isocentre, 6);
    bk_json_put(v, "clicks", clicks_json(t));
    put_px(v, "branch_point_px", t->branch_px);
    put_px(v, "carina_px", t->carina_px);
    put_catheter(v, scene, view);
    bk_json *segments = bk_json_object();
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++)
        bk_json_put(segments, limb_names[i], segment_json(&scene->limb[i], &t->limb[i]));
    bk_json_put(v, "segments", segments);
    bk_json_put(v, "core", core_json(scene, t));
    bk_json_put(v, "angles", angles_json(t->distal_side_deg, t->proximal_side_deg, t->proximal_distal_deg));
    bk_json_put(v, "medina", medina_json(t));
    bk_json_put(v, "crossings", crossings_json(scene, &carm));
    bk_json_put(v, "frames", frames_json(scene, view, t));
    return v;
}

static bk_json *space_json(const ph_scene *scene)
{
    bk_json *space = bk_json_object();
    put_vec(space, "branch_mm", scene->branch);
    bk_json_put_text(space, "branching_law", ph_law_name(scene->law));
    bk_json_put_fixed(space, "carina_deg", scene->carina_deg, 3);
    ph_vec chord[BK_PHANTOM_LIMBS];
    bk_json *segments = bk_json_object();
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++) {
        const ph_limb *l = &scene->limb[i];
        chord[i] = ph_vec_sub(ph_scene_centre(scene, i, 8), scene->branch);
        bk_json *s = bk_json_object(), *points = bk_json_array(), *diameter = bk_json_array();
        bk_json_put_fixed(s, "reference_at_branch_mm", l->reference_mm, 4);
        bk_json_put_fixed(s, "taper_mm_per_mm", i == BK_PHANTOM_PROXIMAL ? l->taper : -l->taper, 6);
        bk_json_put_fixed(s, "click_space_mm", l->click_mm, 4);
        for (double at = 0; at < l->click_mm + SPACE_STEP_MM; at += SPACE_STEP_MM) {
            const double x = fmin(at, l->click_mm);
            bk_json *point = bk_json_array();
            const ph_vec c = ph_scene_centre(scene, i, x);
            bk_json_push(point, bk_json_new_real(bk_round_to(c.x, 4)));
            bk_json_push(point, bk_json_new_real(bk_round_to(c.y, 4)));
            bk_json_push(point, bk_json_new_real(bk_round_to(c.z, 4)));
            bk_json_push(points, point);
            bk_json_push(diameter,
                         bk_json_new_real(bk_round_to(2 * ph_scene_section(scene, i, x).radius_mm, 4)));
        }
        bk_json_put(s, "points_mm", points);
        bk_json_put(s, "area_diameter_mm", diameter);
        bk_json_put(segments, limb_names[i], s);
    }
    bk_json_put(space, "segments", segments);
    bk_json_put(space, "angles",
                angles_json(ph_vec_angle_deg(chord[BK_PHANTOM_DISTAL], chord[BK_PHANTOM_SIDE]),
                            ph_vec_angle_deg(chord[BK_PHANTOM_PROXIMAL], chord[BK_PHANTOM_SIDE]),
                            ph_vec_angle_deg(chord[BK_PHANTOM_PROXIMAL], chord[BK_PHANTOM_DISTAL])));
    return space;
}

static bk_json *render_json(const ph_scene *scene)
{
    const ph_optics *o = &scene->optics;
    bk_json *r = bk_json_object();
    bk_json_put_fixed(r, "density_per_mm", scene->options.density_per_mm, 5);
    bk_json_put_fixed(r, "density_variation_pct", scene->options.density_variation_pct, 3);
    bk_json_put_fixed(r, "scatter_to_primary", o->scatter, 5);
    bk_json_put_fixed(r, "scatter_fraction", o->scatter / (1 + o->scatter), 5);
    bk_json_put_fixed(r, "scatter_sigma_mm", o->scatter_mm, 3);
    bk_json_put_fixed(r, "psf_sigma_mm", o->psf_sigma_mm, 5);
    bk_json_put_fixed(r, "psf_sigma_px", o->psf_sigma_mm / scene->view[0].carm.spacing_mm, 5);
    bk_json_put_fixed(r, "photons", o->photons, 2);
    bk_json_put_fixed(r, "electronic_photons", scene->options.noise ? o->electronic_photons : 0, 3);
    bk_json_put_bool(r, "noise", scene->options.noise);
    bk_json_put_bool(r, "background", scene->options.background);
    bk_json_put_fixed(r, "join_rounding_mm", scene->blend_mm, 4);
    if (scene->has_wire)
        bk_json_put_text(r, "wire", limb_names[scene->wire_limb]);
    else
        bk_json_put_null(r, "wire");
    return r;
}

bk_json *ph_truth_document(const ph_scene *scene, const ph_view_truth *views, bk_json *options)
{
    bk_json *doc = bk_json_object();
    bk_json_put_text(doc, "schema", "branchkeep.truth/1");
    bk_json_put_integer(doc, "seed", (int64_t)scene->options.seed);
    bk_json_put(doc, "options", options);
    bk_json_put(doc, "render", render_json(scene));
    bk_json_put(doc, "medina", medina_json(&views[0]));
    bk_json *list = bk_json_array();
    for (int i = 0; i < scene->views; i++)
        bk_json_push(list, view_json(scene, i, &views[i]));
    bk_json_put(doc, "views", list);
    bk_json_put(doc, "space", space_json(scene));
    return doc;
}
