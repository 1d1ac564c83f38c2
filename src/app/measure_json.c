/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/measure_json.h"
#include "app/warnings.h"

#include <math.h>

#include "base/format.h"
#include "base/number.h"

typedef struct writer {
    bool with_scale;
    double agreement_sd;
} writer;

static void put_size(bk_json *object, const char *key, bk_qty q, const writer *w)
{
    if (!w->with_scale)
        q = bk_qty_absent();
    else if (bk_has(q) && w->agreement_sd > 0)
        q.sd = hypot(isfinite(q.sd) ? q.sd : 0, q.value * w->agreement_sd);
    bk_json_put_qty(object, key, q, 4);
}

static void put_point(bk_json *object, const char *key, bk_pt_px p)
{
    const double v[2] = {p.x, p.y};
    bk_json_put_reals(object, key, v, 2, 2);
}

static void put_points(bk_json *object, const char *key, const bk_pt_px *points, size_t n)
{
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < n; i++) {
        bk_json *pair = bk_json_array();
        bk_json_push(pair, bk_json_new_real(bk_round_to(points[i].x, 2)));
        bk_json_push(pair, bk_json_new_real(bk_round_to(points[i].y, 2)));
        bk_json_push(list, pair);
    }
    bk_json_put(object, key, list);
}

static void put_coordinate(bk_json *object, const char *key, const bk_pt_px *points, size_t n, bool want_y)
{
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < n; i++)
        bk_json_push(list, bk_json_new_real(bk_round_to(want_y ? points[i].y : points[i].x, 2)));
    bk_json_put(object, key, list);
}

static bk_json *profile_json(const bk_segment *s, const writer *w)
{
    bk_json *out = bk_json_object();
    const size_t sized = w->with_scale ? s->n : 0; /* without a scale the lists in mm are empty */
    bk_json_put_reals(out, "position_mm", s->position_mm, sized, 3);
    put_coordinate(out, "x_px", s->axis, s->n, false);
    put_coordinate(out, "y_px", s->axis, s->n, true);
    bk_json_put_reals(out, "diameter_mm", s->diameter_mm, sized, 4);
    bk_json_put_reals(out, "sd_mm", s->sd_mm, sized, 4);
    bk_json_put_reals(out, "reference_mm", s->reference_at_mm, sized, 4);
    put_points(out, "left_px", s->left, s->n);
    put_points(out, "right_px", s->right, s->n);
    return out;
}

/* Runs of samples with a hand-drawn edge, as [from, to]. */
static bk_json *drawn_json(const bk_segment *s, const writer *w)
{
    bk_json *list = bk_json_array();
    for (size_t i = 0; w->with_scale && s->drawn && i < s->n; i++) {
        if (!s->drawn[i] || (i > 0 && s->drawn[i - 1]))
            continue;
        size_t last = i;
        while (last + 1 < s->n && s->drawn[last + 1])
            last++;
        bk_json *pair = bk_json_array();
        bk_json_push(pair, bk_json_new_real(bk_round_to(s->position_mm[i], 3)));
        bk_json_push(pair, bk_json_new_real(bk_round_to(s->position_mm[last], 3)));
        bk_json_push(list, pair);
    }
    return list;
}

static bk_json *occlusion_json(const bk_segment *s, const writer *w)
{
    if (!s->occluded)
        return bk_json_new_null();
    const double unit = w->with_scale ? 1 : (double)NAN;
    bk_json *out = bk_json_object();
    bk_json_put_bool(out, "stump", s->stump);
    bk_json_put_fixed(out, "stop_mm", unit * s->mld_position_mm, 3);
    bk_json_put_fixed(out, "refill_mm", unit * s->refill_mm, 3);
    bk_json_put_fixed(out, "gap_mm", unit * (s->refill_mm - s->mld_position_mm), 3);
    bk_json_put_fixed(out, "seen_least_mm", unit * s->seen_least_mm, 3);
    return out;
}

static bk_json *segment_json(const bk_segment *s, const writer *w)
{
    bk_json *out = bk_json_object();
    put_size(out, "reference_mm", s->reference_mm, w);
    put_size(out, "reference_by_law_mm", s->reference_by_law_mm, w);
    put_size(out, "reference_fitted_mm", s->reference_fitted_mm, w);
    put_size(out, "mld_mm", s->mld_mm, w);
    bk_json_put_qty(out, "stenosis_pct", s->stenosis_pct, 2);
    bk_json_put_qty(out, "area_stenosis_pct", s->area_stenosis_pct, 2);
    put_size(out, "lesion_length_mm", s->lesion_length_mm, w);
    put_size(out, "length_mm", s->length_mm, w);
    put_size(out, "ostial_mm", s->ostial_mm, w);
    bk_json_put_fixed(out, "mld_position_mm", w->with_scale ? s->mld_position_mm : (double)NAN, 3);
    bk_json_put_fixed(out, "ostium_mm", w->with_scale ? s->ostium_mm : (double)NAN, 3);
    bk_json_put_fixed(out, "lesion_from_mm", w->with_scale ? s->lesion_from_mm : (double)NAN, 3);
    bk_json_put_fixed(out, "lesion_to_mm", w->with_scale ? s->lesion_to_mm : (double)NAN, 3);
    bk_json_put_bool(out, "occluded", s->occluded);
    bk_json_put(out, "occlusion", occlusion_json(s, w));
    bk_json_put(out, "drawn_mm", drawn_json(s, w));
    bk_json_put(out, "profile", profile_json(s, w));
    return out;
}

static bk_json *medina_ways_json(const bk_bifurcation *b)
{
    bk_json *list = bk_json_array();
    for (int i = 0; i < b->medina_ways_n; i++) {
        const int *d = b->medina_way[i].digits;
        char text[8];
        bk_format(text, sizeof text, "%d,%d,%d", d[0], d[1], d[2]);
        bk_json *way = bk_json_object();
        bk_json_put_text(way, "medina", text);
        bk_json_put_fixed(way, "probability_pct", b->medina_way[i].probability_pct, 1);
        bk_json_push(list, way);
    }
    return list;
}

static void put_branching(bk_json *object, const bk_bifurcation *b, const writer *w)
{
    bk_json *segments = bk_json_object(), *core = bk_json_object(), *angles = bk_json_object();
    put_point(object, "branch_point_px", b->branch_point);
    put_point(object, "branch_point_sd_px", b->branch_point_sd);
    put_point(object, "carina_px", b->carina);
    for (int i = 0; i < BK_LIMBS; i++)
        bk_json_put(segments, bk_limb_name(i), segment_json(&b->segment[i], w));
    bk_json_put(object, "segments", segments);
    put_size(core, "diameter_mm", b->core_diameter_mm, w);
    bk_json_put_qty(core, "stenosis_pct", b->core_stenosis_pct, 2);
    put_point(core, "centre_px", b->core_centre);
    bk_json_put_fixed(core, "radius_px", b->core_radius_px, 2);
    bk_json_put(object, "core", core);
    bk_json_put_qty(angles, "distal_side_deg", b->distal_side_deg, 2);
    bk_json_put_qty(angles, "proximal_side_deg", b->proximal_side_deg, 2);
    bk_json_put_qty(angles, "proximal_distal_deg", b->proximal_distal_deg, 2);
    bk_json_put(object, "angles", angles);
}

static bk_json *fit_json(const bk_bifurcation *b, const writer *w)
{
    bk_json *fit = bk_json_object();
    bk_json_put_text(fit, "mode", b->by_density ? "density" : "edge");
    bk_json_put_fixed(fit, "psf_px", b->psf_px, 3);
    bk_json_put_fixed(fit, "contrast_per_mm", b->by_density && w->with_scale ? b->contrast_per_mm : (double)NAN, 4);
    bk_json_put_fixed(fit, "noise", b->noise, 4);
    return fit;
}

void bk_measure_json_fill(bk_json *object, const bk_bifurcation *b, bool with_scale, double agreement_sd)
{
    const writer w = {with_scale, agreement_sd};
    char medina[8];
    put_branching(object, b, &w);
    bk_format(medina, sizeof medina, "%d,%d,%d", b->medina[0], b->medina[1], b->medina[2]);
    bk_json_put_text(object, "medina", medina);
    bk_json_put(object, "medina_alternatives", medina_ways_json(b));
    bk_json_put(object, "fit", fit_json(b, &w));
    bk_json *warnings = bk_json_array();
    for (size_t i = 0; i < b->warnings_n; i++)
        bk_warnings_add(warnings, b->warnings[i].code, b->warnings[i].message);
    bk_json_put(object, "warnings", warnings);
}
