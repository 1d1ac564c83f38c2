/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One view only: which positions would give the depth, and what going without it costs. */
#include <math.h>

#include "app/views_json.h"
#include "base/evidence.h"
#include "base/format.h"

static double cell(const char *id)
{
    return bk_evidence_value(bk_evidence_builtin(), id);
}

static bk_json *place_json(const bk_second_place *place)
{
    char words[BK_POSITION_WORDS];
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "primary_deg", place->primary_deg, 1);
    bk_json_put_fixed(out, "secondary_deg", place->secondary_deg, 1);
    bk_json_put_text(out, "words", bk_position_words(words, place->primary_deg, place->secondary_deg));
    bk_json_put_fixed(out, "apart_deg", place->apart_deg, 1);
    bk_json_put_fixed(out, "depth_error_factor", bk_views_depth_error(place->apart_deg), 2);
    return out;
}

static bk_json *regions_json(const bk_second_view *second)
{
    bk_json *list = bk_json_array();
    for (int r = 0; r < second->n; r++) {
        bk_json *row = bk_json_object(), *ranges = bk_json_array();
        for (int i = 0; i < second->row[r].n; i++) {
            bk_json *range = bk_json_array();
            bk_json_push(range, bk_json_new_real(second->row[r].primary_deg[i][0]));
            bk_json_push(range, bk_json_new_real(second->row[r].primary_deg[i][1]));
            bk_json_push(ranges, range);
        }
        bk_json_put_fixed(row, "secondary_deg", second->row[r].secondary_deg, 1);
        bk_json_put(row, "primary_deg", ranges);
        bk_json_push(list, row);
    }
    return list;
}

static void put_second(bk_answer *answer, const bk_second_view *second, double primary_deg, double secondary_deg, double least_deg)
{
    bk_json *out = bk_json_object(), *first = bk_json_object();
    char words[BK_POSITION_WORDS];
    bk_json_put_fixed(first, "primary_deg", primary_deg, 1);
    bk_json_put_fixed(first, "secondary_deg", secondary_deg, 1);
    bk_json_put_text(first, "words", bk_position_words(words, primary_deg, secondary_deg));
    bk_json_put_fixed(out, "least_apart_deg", least_deg, 1);
    bk_json_put(out, "first", first);
    bk_json_put_fixed(out, "share_of_reach_pct", second->share_pct, 1);
    bk_json_put(out, "nearest", second->share_pct > 0 ? place_json(&second->nearest) : bk_json_new_null());
    bk_json_put(out, "widest", second->share_pct > 0 ? place_json(&second->widest) : bk_json_new_null());
    bk_json_put(out, "regions", regions_json(second));
    bk_json_put(answer->json, "second_view", out);
}

/* A length as seen is the least it can be; what it would be if the limb leaned out of the picture. */
static bk_json *length_json(const bk_json *qty, const double lean_deg[2])
{
    const double mm = bk_json_is_number(qty) ? bk_json_number(qty) : bk_json_number(bk_json_get(qty, "value"));
    bk_json *out = bk_json_object(), *leaning = bk_json_array();
    bk_json_put_fixed(out, "at_least_mm", mm, 1);
    for (int i = 0; i < 2; i++) {
        bk_json *one = bk_json_object();
        bk_json_put_fixed(one, "lean_deg", lean_deg[i], 0);
        bk_json_put_fixed(one, "length_mm", mm / cos(lean_deg[i] / 180 * 3.14159265358979323846), 1);
        bk_json_push(leaning, one);
    }
    bk_json_put(out, "if_leaning", leaning);
    bk_json_put_text(out, "origin", "projected");
    return out;
}

static void put_price(bk_answer *answer, const bk_json *measurement)
{
    const double lean[2] = {cell(BK_EVIDENCE("view_lean_some")), cell(BK_EVIDENCE("view_lean_much"))};
    const bk_evidence_set *evidence = bk_evidence_builtin();
    const double range[2] = {bk_evidence_low(evidence, BK_EVIDENCE("foreshortening_range")),
                             bk_evidence_high(evidence, BK_EVIDENCE("foreshortening_range"))};
    bk_json *out = bk_json_object(), *lengths = bk_json_object();
    for (int i = 0; i < BK_LIMBS; i++) {
        const bk_json *segment = bk_json_get(bk_json_get(measurement, "segments"), bk_limb_name(i));
        bk_json *limb = bk_json_object();
        bk_json_put(limb, "length", length_json(bk_json_get(segment, "length_mm"), lean));
        const bk_json *lesion = bk_json_get(segment, "lesion_length_mm");
        bk_json_put(limb, "lesion", !lesion || bk_json_is_null(lesion) ? bk_json_new_null() : length_json(lesion, lean));
        bk_json_put(lengths, bk_limb_name(i), limb);
    }
    bk_json_put(out, "lengths", lengths);
    bk_json_put_reals(out, "foreshortening_range_pct", range, 2, 1);
    bk_json_put_qty(out, "foreshortening_operators_pct",
                    bk_qty_of(cell(BK_EVIDENCE("foreshortening_used")), bk_evidence_sd(evidence, BK_EVIDENCE("foreshortening_used")), BK_ENTERED), 1);
    bk_json_put_qty(out, "foreshortening_computed_pct",
                    bk_qty_of(cell(BK_EVIDENCE("foreshortening_computed")), bk_evidence_sd(evidence, BK_EVIDENCE("foreshortening_computed")), BK_ENTERED), 1);
    bk_json_put(answer->json, "price", out);
    static const char *const rows[] = {BK_EVIDENCE("foreshortening_range"), BK_EVIDENCE("foreshortening_used"),
                                       BK_EVIDENCE("foreshortening_computed"), BK_EVIDENCE("view_lean_some"), BK_EVIDENCE("view_lean_much")};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        bk_answer_source(answer, rows[i]);
}

void bk_views_one_fill(bk_answer *answer, const bk_json *measurement, const double primary_reach[2], const double secondary_reach[2],
                       bk_second_view *second, bool *second_known)
{
    const double least = cell(BK_EVIDENCE("view_separation"));
    const double primary = bk_json_number(bk_json_path(measurement, "geometry.primary_deg"));
    const double secondary = bk_json_number(bk_json_path(measurement, "geometry.secondary_deg"));
    char why[200];
    bk_json_put(answer->json, "best", bk_json_array());
    bk_json_put_null(answer->json, "map");
    *second_known = fabs(primary) <= 180 && fabs(secondary) <= 90;
    if (*second_known) {
        bk_second_view_find(primary, secondary, least, primary_reach, secondary_reach, second);
        put_second(answer, second, primary, secondary, least);
    } else {
        bk_json_put_null(answer->json, "second_view");
        bk_answer_missing(answer, "geometry.primary_deg", "the angles of the measured view: without them nobody can say which views lie far enough away");
    }
    bk_format(why, sizeof why, "needs a view at least %g° away: depth, and so every best view, angle and true length, comes from two views", least);
    bk_answer_missing(answer, "second_view", why);
    bk_answer_caution(answer, "One view shows a shadow: no view is computed from it. Needs a view at least %g° away, of the same heart phase.", least);
    bk_answer_caution(answer, "Lengths from one view are lower bounds; the vessel is at least as long as it looks.");
    if (*second_known && second->share_pct <= 0)
        bk_answer_caution(answer, "No position within the reach lies %g° away from the measured view.", least);
    bk_answer_source(answer, BK_EVIDENCE("view_separation"));
    put_price(answer, measurement);
}
