/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/solid_json.h"

#include <math.h>

#include "app/app.h"
#include "app/warnings.h"
#include "base/format.h"
#include "base/number.h"

void bk_solid_json_warn(bk_json *warnings, const char *code, const char *message)
{
    bk_warnings_add(warnings, code, message);
}

static void put_points(bk_json *object, const char *key, const bk_vec *point, size_t n)
{
    bk_json *const list = bk_json_array();
    for (size_t i = 0; i < n; i++) {
        bk_json *const one = bk_json_array();
        for (int x = 0; x < 3; x++)
            bk_json_push(one, bk_json_new_real(bk_round_to(point[i].v[x], 3)));
        bk_json_push(list, one);
    }
    bk_json_put(object, key, list);
}

static bk_json *limb_json(const bk_space_limb *l)
{
    bk_json *const out = bk_json_object();
    bk_json_put_qty(out, "length_mm", l->length_mm, 3);
    bk_json_put_qty(out, "reference_mm", l->reference_mm_at_mld, 4);
    bk_json_put_qty(out, "mld_mm", l->mld_mm, 4);
    bk_json_put_qty(out, "stenosis_pct", l->stenosis_pct, 2);
    bk_json_put_qty(out, "area_stenosis_pct", l->area_stenosis_pct, 2);
    if (bk_has(l->area_stenosis_pct))
        bk_json_put_reals(out, "area_stenosis_if_unround_pct", l->area_stenosis_band_pct, 2, 1);
    bk_json_put_qty(out, "lesion_length_mm", l->lesion_length_mm, 3);
    bk_json_put_fixed(out, "ostium_mm", l->ostium_mm, 3);
    bk_json_put_fixed(out, "mld_position_mm", l->mld_position_mm, 3);
    bk_json_put_fixed(out, "lesion_from_mm", l->lesion_from_mm, 3);
    bk_json_put_fixed(out, "lesion_to_mm", l->lesion_to_mm, 3);
    bk_json_put_bool(out, "occluded", l->occluded);
    put_points(out, "points_mm", l->point, l->n);
    bk_json_put_reals(out, "position_mm", l->position_mm, l->n, 3);
    bk_json_put_reals(out, "diameter_mm", l->diameter_mm, l->n, 4);
    bk_json_put_reals(out, "sd_mm", l->sd_mm, l->n, 4);
    bk_json_put_reals(out, "minor_mm", l->minor_mm, l->n, 4);
    bk_json_put_reals(out, "major_mm", l->major_mm, l->n, 4);
    bk_json_put_reals(out, "profile_reference_mm", l->reference_mm, l->n, 4);
    return out;
}

static bk_json *foreshortening_json(const bk_space_solid *solid)
{
    bk_json *const out = bk_json_object();
    for (size_t v = 0; v < solid->fit.views; v++) {
        char name[16];
        bk_format(name, sizeof name, "view%zu", v + 1);
        bk_json *const view = bk_json_object();
        for (int k = 0; k < BK_LIMBS; k++)
            bk_json_put_fixed(view, bk_limb_name(k), solid->limb[k].foreshortening_pct[v], 2);
        bk_json_put(out, name, view);
    }
    return out;
}

static bk_json *fit_json(const bk_space_solid *solid)
{
    const bk_space_fit *const fit = &solid->fit;
    bk_json *const out = bk_json_object(), *const turns = bk_json_array();
    bk_json_put_fixed(out, "rms_px", fit->rms_px, 3);
    bk_json_put_fixed(out, "view_separation_deg", solid->view_separation_deg, 2);
    bk_json_put_fixed(out, "shift_mm", fit->shift_mm[1], 3);
    bk_json_put_reals(out, "shifts_mm", fit->shift_mm + 1, fit->views - 1, 3);
    for (size_t v = 1; v < fit->views; v++) {
        bk_json *const turn = bk_json_array();
        for (int k = 0; k < 2; k++)
            bk_json_push(turn, bk_json_new_real(bk_round_to(fit->turn_deg[v][k], 3)));
        bk_json_push(turns, turn);
    }
    bk_json_put(out, "turns_deg", turns);
    bk_json_put_fixed(out, "scale_sd_pct", 100 * solid->scale_sd, 2);
    bk_json_put_fixed(out, "spread_deg", solid->spread_deg, 1);
    bk_json_put_text(out, "section", solid->spread_deg >= BK_SECTION_ELLIPSE_DEG ? "ellipse" : "circle");
    return out;
}

static bk_json *sources_json(const bk_json *const *measurement, size_t n)
{
    bk_json *const list = bk_json_array();
    for (size_t k = 0; k < n; k++) {
        bk_json *const one = bk_json_object();
        static const char *const keys[] = {"source", "stage", "acquired_at", "nitrate", "wire_in_limb", "geometry", "calibration"};
        for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
            const bk_json *const value = bk_json_get(measurement[k], keys[i]);
            if (value)
                bk_json_put(one, keys[i], bk_json_copy(value));
        }
        bk_json_push(list, one);
    }
    return list;
}

bk_json *bk_solid_json(const bk_space_solid *solid, const bk_json *const *measurement, size_t n, bk_json *warnings)
{
    bk_json *const out = bk_json_object(), *const segments = bk_json_object(), *const angles = bk_json_object();
    bk_json_put_text(out, "schema", "branchkeep.solid/1");
    bk_json_put_text(out, "engine", bk_engine);
    for (int k = 0; k < BK_LIMBS; k++)
        bk_json_put(segments, bk_limb_name(k), limb_json(&solid->limb[k]));
    bk_json_put(out, "segments", segments);
    bk_json_put_qty(angles, "distal_side_deg", solid->distal_side_deg, 2);
    bk_json_put_qty(angles, "proximal_side_deg", solid->proximal_side_deg, 2);
    bk_json_put_qty(angles, "proximal_distal_deg", solid->proximal_distal_deg, 2);
    bk_json_put(out, "angles", angles);
    bk_json_put(out, "fit", fit_json(solid));
    bk_json_put(out, "foreshortening_pct", foreshortening_json(solid));
    bk_json_put(out, "views", sources_json(measurement, n));
    bk_json_put(out, "warnings", warnings);
    bk_json_put_text(out, "caution", bk_caution);
    return out;
}
