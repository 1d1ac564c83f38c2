/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The repeated measurement as JSON. */
#include <math.h>

#include "app/repeat_inside.h"
#include "app/warnings.h"
#include "base/format.h"

static const int decimals[BK_REPEAT_VALUES] = {4, 4, 2};

static void put_points(bk_json *out, const bk_repeat *all, const bk_repeat_row *r)
{
    if (!r->followed) {
        bk_json_put_null(out, "clicks_px");
        return;
    }
    bk_json *clicks = bk_json_object(), *via = bk_json_array();
    for (int k = 0; k < BK_LIMBS; k++) {
        const double at[2] = {r->point[k].x, r->point[k].y};
        bk_json_put_reals(clicks, bk_limb_name(k), at, 2, 2);
    }
    bk_json_put(out, "clicks_px", clicks);
    for (size_t i = 0; i < all->said.via.n; i++) {
        bk_json *point = bk_json_object();
        bk_json_put_text(point, "limb", bk_limb_name(BK_ITEMS(all->said.via, bk_way_point)[i].limb - 1));
        bk_json_put_fixed(point, "x_px", r->point[BK_LIMBS + i].x, 2);
        bk_json_put_fixed(point, "y_px", r->point[BK_LIMBS + i].y, 2);
        bk_json_push(via, point);
    }
    bk_json_put(out, "via", via);
}

/* Less contrast than in the fullest frame, and another lumen read with it: the contrast does not reach the wall, or what should be the
   outside is another vessel. Less contrast alone is not enough: thinner contrast, or a vessel that lies more across the beam, shows
   the same lumen. */
static bool hardly_filled(const bk_repeat *r, int i, int limb)
{
    const bk_filling *f = &r->rows[i].filling[limb];
    const double part = r->rows[i].value[limb][0] / r->rows[f->best].value[limb][0];
    return f->ratio < BK_FILLING_LEAST && (part < BK_FILLING_ALIKE || part > 1 / BK_FILLING_ALIKE);
}

static void drop_values(bk_repeat_row *at, int limb)
{
    for (int v = 0; v < BK_REPEAT_VALUES; v++)
        at->value[limb][v] = NAN;
}

/* What lies over a limb has contrast of its own: such a row has no values of the limb, and the others are not held against it. */
static void drop_covered(bk_repeat *r, int limb)
{
    bool covered[BK_REPEAT_MAX];
    for (int i = 0; i < r->n; i++) {
        bk_repeat_row *at = &r->rows[i];
        const double excess = bk_limb_filling_of(&r->filling[limb], r->n, i).excess;
        covered[i] = at->carried.hidden[limb][0] || excess > BK_FILLING_MOST;
        if (at->carried.hidden[limb][0] || !covered[i])
            continue;
        drop_values(at, limb);
        bk_format(at->why[limb], sizeof at->why[limb],
                  "cannot say: %.1f times the contrast of any other frame: perhaps another vessel lies over the limb", excess);
    }
    for (int i = 0; i < r->n; i++)
        if (covered[i])
            bk_limb_filling_drop(&r->filling[limb], i);
}

static void judge_limb_filling(bk_repeat *r, int i, int limb)
{
    bk_repeat_row *at = &r->rows[i];
    const bk_filling *f = &at->filling[limb];
    at->filling[limb] = bk_limb_filling_of(&r->filling[limb], r->n, i);
    if (!hardly_filled(r, i, limb))
        return;
    at->hardly_filled[limb] = true;
    bk_format(at->why[limb], sizeof at->why[limb], "cannot say: another size, with %.0f %% of the contrast that frame %d shows at the same place; at least %.0f %% was expected",
              100 * f->ratio, (int)r->rows[f->best].frame, 100 * BK_FILLING_LEAST);
}

void bk_repeat_judge_filling(bk_repeat *r, bk_json *answer)
{
    for (int k = 0; k < BK_LIMBS; k++) {
        drop_covered(r, k);
        for (int i = 0; i < r->n; i++)
            judge_limb_filling(r, i, k);
        for (int i = 0; i < r->n; i++)
            if (r->rows[i].hardly_filled[k])
                drop_values(&r->rows[i], k);
    }
    for (int k = 0; k < BK_LIMBS; k++) {
        const bk_filling *f = &r->rows[r->own].filling[k];
        char message[200];
        if (!r->rows[r->own].hardly_filled[k])
            continue;
        bk_format(message, sizeof message, "the %s limb holds %.0f %% of the contrast that frame %d shows: what is read of it may not be its wall",
                  bk_limb_name(k), 100 * f->ratio, (int)r->rows[f->best].frame);
        bk_warnings_add(bk_json_get(answer, "warnings"), "hardly_filled", message);
    }
}

static void put_course(bk_json *segment, const bk_repeat_row *r, int limb)
{
    const bk_course *course = &r->carried.course;
    double x[BK_COURSE_MAX], y[BK_COURSE_MAX];
    const size_t n = r->followed ? course->n[limb] : 0;
    for (size_t k = 0; k < n; k++) {
        x[k] = course->at[limb][k].x;
        y[k] = course->at[limb][k].y;
    }
    bk_json_put_reals(segment, "course_x_px", x, n, 2);
    bk_json_put_reals(segment, "course_y_px", y, n, 2);
}

static bk_json *row_json(const bk_repeat *all, const bk_repeat_row *r)
{
    const bool measured = !r->reason[0];
    bk_json *out = bk_json_object(), *segments = bk_json_object();
    bk_json_put_integer(out, "frame", r->frame);
    bk_json_put_text(out, "status", measured ? "ok" : "failed");
    bk_json_put_text(out, "reason", measured ? NULL : r->reason);
    bk_json_put_fixed(out, "match", r->match, 3);
    for (int k = 0; k < BK_LIMBS; k++) {
        bk_json *segment = bk_json_object();
        for (int v = 0; v < BK_REPEAT_VALUES; v++)
            bk_json_put_fixed(segment, bk_repeat_values[v], measured ? r->value[k][v] : (double)NAN, decimals[v]);
        bk_json_put_fixed(segment, "filling", r->filling[k].ratio, 3);
        bk_json_put_text(segment, "reason", measured && r->why[k][0] ? r->why[k] : NULL);
        put_course(segment, r, k);
        bk_json_put(segments, bk_limb_name(k), segment);
    }
    put_points(out, all, r);
    bk_json_put(out, "segments", segments);
    return out;
}

/* Mean and SD between frames of one value; NaN in a row counts as not measured. */
static bk_json *mean_json(const bk_repeat *r, int limb, int value)
{
    double sum = 0, squares = 0;
    int n = 0;
    for (int i = 0; i < r->n; i++)
        if (!r->rows[i].reason[0] && isfinite(r->rows[i].value[limb][value])) {
            sum += r->rows[i].value[limb][value];
            n++;
        }
    const double mean = n ? sum / n : (double)NAN;
    for (int i = 0; i < r->n; i++)
        if (!r->rows[i].reason[0] && isfinite(r->rows[i].value[limb][value]))
            squares += (r->rows[i].value[limb][value] - mean) * (r->rows[i].value[limb][value] - mean);
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "mean", mean, decimals[value]);
    bk_json_put_fixed(out, "sd", n > 1 ? sqrt(squares / (n - 1)) : (double)NAN, decimals[value]);
    bk_json_put_integer(out, "n", n);
    return out;
}

void bk_repeat_describe(const bk_repeat *r, bk_json *answer)
{
    bk_json *rows = bk_json_array(), *mean = bk_json_object(), *segments = bk_json_object();
    int measured = 0;
    for (int i = 0; i < r->n; i++) {
        bk_json_push(rows, row_json(r, &r->rows[i]));
        measured += !r->rows[i].reason[0];
    }
    bk_json_put_integer(mean, "n", measured);
    for (int k = 0; k < BK_LIMBS; k++) {
        bk_json *segment = bk_json_object();
        for (int v = 0; v < BK_REPEAT_VALUES; v++)
            bk_json_put(segment, bk_repeat_values[v], mean_json(r, k, v));
        bk_json_put(segments, bk_limb_name(k), segment);
    }
    bk_json_put(mean, "segments", segments);
    bk_json_put(answer, "repeats", rows);
    bk_json_put(answer, "repeat_mean", mean);
}
