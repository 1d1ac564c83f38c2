/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/views_json.h"

#include <math.h>

#include "base/format.h"
#include "base/number.h"

bk_json *bk_limbs_json(const double value[BK_LIMBS], int decimals)
{
    bk_json *out = bk_json_object();
    for (int i = 0; i < BK_LIMBS; i++)
        bk_json_put_fixed(out, bk_limb_name(i), value[i], decimals);
    return out;
}

static bk_json *overlap_json(const bk_view *v, double tolerated_pct)
{
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "low", v->overlap_low_pct, 1);
    bk_json_put_fixed(out, "high", v->overlap_high_pct, 1);
    bk_json_put_fixed(out, "level_pct", 90, 0);
    bk_json_put_text(out, "clear", v->overlap_high_pct <= tolerated_pct ? "yes" : v->overlap_low_pct > tolerated_pct ? "no" : "unknown");
    bk_json_put_fixed(out, "clear_certainty_pct", v->clear_certainty_pct, 1);
    return out;
}

static void put_place(bk_json *out, double primary_deg, double secondary_deg)
{
    char words[BK_POSITION_WORDS];
    bk_json_put_fixed(out, "primary_deg", primary_deg, 1);
    bk_json_put_fixed(out, "secondary_deg", secondary_deg, 1);
    bk_json_put_text(out, "words", bk_position_words(words, primary_deg, secondary_deg));
}

static bk_json *view_json(const bk_view *v, int purpose, int rank, double tolerated_pct)
{
    bk_json *out = bk_json_object(), *ostium = bk_json_object();
    bk_json_put_text(out, "purpose", bk_purpose_names[purpose]);
    if (rank > 0)
        bk_json_put_integer(out, "rank", rank);
    else
        bk_json_put_null(out, "rank");
    put_place(out, v->primary_deg, v->secondary_deg);
    bk_json_put_bool(out, "another_valley", v->another_valley);
    bk_json_put(out, "foreshortening_pct", bk_limbs_json(v->foreshortening_pct, 2));
    bk_json_put(out, "foreshortening_sd_pct", bk_limbs_json(v->foreshortening_sd_pct, 2));
    bk_json_put(out, "near_foreshortening_pct", bk_limbs_json(v->near_foreshortening_pct, 2));
    bk_json_put_fixed(out, "overlap_pct", v->overlap_pct, 1);
    bk_json_put(out, "overlap", overlap_json(v, tolerated_pct));
    bk_json_put(out, "limb_overlap_pct", bk_limbs_json(v->limb_overlap_pct, 1));
    bk_json_put_text(ostium, "seen", bk_sight_names[v->sight]);
    bk_json_put_qty(ostium, "from_en_face_deg", bk_qty_of(v->ostium_deg, v->ostium_sd_deg, BK_DERIVED), 1);
    bk_json_put(out, "ostium", ostium);
    bk_json_put_qty(out, "distal_side_seen_deg", bk_qty_of(v->distal_side_deg, v->distal_side_sd_deg, BK_DERIVED), 1);
    bk_json_put_fixed(out, "loss_pct", 100 * v->loss, 2);
    bk_json_put_bool(out, "reachable", v->reachable);
    return out;
}

/* What the best view in reach shows worse than the best view there is. */
static bk_json *price_json(const bk_view *best, const bk_view *optimum)
{
    double whole[BK_LIMBS], near[BK_LIMBS];
    for (int i = 0; i < BK_LIMBS; i++) {
        whole[i] = best->foreshortening_pct[i] - optimum->foreshortening_pct[i];
        near[i] = best->near_foreshortening_pct[i] - optimum->near_foreshortening_pct[i];
    }
    bk_json *out = bk_json_object();
    bk_json_put(out, "foreshortening_points", bk_limbs_json(whole, 2));
    bk_json_put(out, "near_foreshortening_points", bk_limbs_json(near, 2));
    bk_json_put_fixed(out, "overlap_points", best->overlap_pct - optimum->overlap_pct, 1);
    bk_json_put_fixed(out, "loss_points", 100 * (best->loss - optimum->loss), 2);
    return out;
}

static void put_best(bk_json *object, const bk_views_input *input, const bk_views *views)
{
    static const char *const meanings[BK_PURPOSES] = {
        "lay out the main vessel, proximal and distal", "show the mouth of the side branch in profile",
        "open the carina: both daughters side by side", "watch a re-cross: the mouth of the side branch en face"};
    bk_json *list = bk_json_array(), *purposes = bk_json_array();
    for (int p = 0; p < BK_PURPOSES; p++) {
        const bk_views_purpose *from = &views->purpose[p];
        for (int i = 0; i < from->n; i++)
            bk_json_push(list, view_json(&from->best[i], p, i + 1, 100 * input->overlap_tolerated));
        if (!from->optimum_in_reach) {
            bk_json *optimum = view_json(&from->optimum, p, 0, 100 * input->overlap_tolerated);
            bk_json_put(optimum, "price", price_json(&from->best[0], &from->optimum));
            bk_json_push(list, optimum);
        }
        bk_json *purpose = bk_json_object();
        bk_json_put_text(purpose, "id", bk_purpose_names[p]);
        bk_json_put_text(purpose, "text", meanings[p]);
        bk_json_put_bool(purpose, "optimum_in_reach", from->optimum_in_reach);
        bk_json_push(purposes, purpose);
    }
    bk_json_put(object, "purposes", purposes);
    bk_json_put(object, "best", list);
}

static bk_json *angles_json(double from, double step, int n)
{
    bk_json *list = bk_json_array();
    for (int i = 0; i < n; i++)
        bk_json_push(list, bk_json_new_real(from + i * step));
    return list;
}

static bk_json *grid_json(const bk_views_map *map, const float *value)
{
    bk_json *rows = bk_json_array();
    for (int r = 0; r < map->rows; r++) {
        bk_json *row = bk_json_array();
        for (int c = 0; c < map->cols; c++)
            bk_json_push(row, bk_json_new_real(bk_round_to((double)value[r * map->cols + c], 1)));
        bk_json_push(rows, row);
    }
    return rows;
}

void bk_views_json_fill(bk_json *object, const bk_views_input *input, const bk_views *views)
{
    const bk_views_map *map = &views->map;
    bk_json *out = bk_json_object(), *foreshortening = bk_json_object(), *overlap = bk_json_object(), *loss = bk_json_object();
    put_best(object, input, views);
    bk_json_put(out, "primary_deg", angles_json(map->primary_from_deg, map->step_deg, map->cols));
    bk_json_put(out, "secondary_deg", angles_json(map->secondary_from_deg, map->step_deg, map->rows));
    for (int i = 0; i < BK_LIMBS; i++)
        bk_json_put(foreshortening, bk_limb_name(i), grid_json(map, map->foreshortening[i]));
    for (int p = 0; p < BK_PURPOSES; p++) {
        bk_json_put(overlap, bk_purpose_names[p], grid_json(map, map->overlap[p]));
        bk_json_put(loss, bk_purpose_names[p], grid_json(map, map->loss[p]));
    }
    bk_json_put(out, "foreshortening_pct", foreshortening);
    bk_json_put(out, "expected_overlap_pct", overlap);
    bk_json_put(out, "loss_pct", loss);
    bk_json_put(object, "map", out);
}
