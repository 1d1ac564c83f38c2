/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/repeat.h"

#include <math.h>
#include <string.h>

#include "app/intensity.h"
#include "app/repeat_inside.h"
#include "base/format.h"

#define WIDER 1.25 /* a lumen changes by less between frames of a beat or two (choice of this project) */
#define SIDE_MAX 65536 /* rows and columns of DICOM are 16 bits */

const char *const bk_repeat_values[BK_REPEAT_VALUES] = {"mld_mm", "reference_mm", "stenosis_pct"};

static void take_values(const bk_json *answer, bk_repeat_row *out)
{
    const bk_json *segments = bk_json_get(answer, "segments");
    for (int k = 0; k < BK_LIMBS; k++)
        for (int v = 0; v < BK_REPEAT_VALUES; v++)
            out->value[k][v] = bk_json_number(bk_json_get(bk_json_get(bk_json_get(segments, bk_limb_name(k)), bk_repeat_values[v]), "value"));
}

/* What was said, with the way-points where they are in a row's frame. Stretches are mm from the branch point, which
   goes with the vessel itself. */
static bk_status said_in(const bk_repeat *r, const bk_repeat_row *at, bk_arena *arena, bk_corrections *out, bk_err *err)
{
    bk_way_point *via = BK_NEW(arena, r->said.via.n, bk_way_point, err);
    if (!via)
        return err->status;
    for (size_t i = 0; i < r->said.via.n; i++)
        via[i] = (bk_way_point){BK_ITEMS(r->said.via, bk_way_point)[i].limb, at->point[BK_LIMBS + i].x, at->point[BK_LIMBS + i].y};
    *out = r->said;
    out->via = (bk_list){.items = via, .n = r->said.via.n};
    return BK_OK;
}

/* The values of a frame and the contrast it shows along the limbs. */
static bk_status take_row(bk_repeat *r, const bk_json *answer, bk_repeat_row *out, bk_err *err)
{
    bk_image log_image;
    take_values(answer, out);
    bk_arena_init(&r->arena[0], BK_REPEAT_MEMORY);
    bk_status status = bk_app_log_frame(r->file, &r->info, out->frame, &r->arena[0], &log_image, err);
    if (status == BK_OK)
        status = bk_limb_filling_take(answer, &log_image, (int)(out - r->rows), &r->keep, r->filling, err);
    bk_arena_clear(&r->arena[0]);
    return status;
}

/* The larger of a limb's MLD and reference in a row; NaN when neither was measured. */
static double widest(const bk_repeat_row *of, int limb)
{
    return fmax(of->value[limb][0], of->value[limb][1]);
}

/* Why a limb's values cannot be used, if so: it is hidden, was measured somewhere else than it was carried to, has an
   occlusion that comes and goes, or has become wider than a lumen does within seconds. */
static bool unusable(const bk_repeat *r, const bk_json *answer, bk_repeat_row *out, int i)
{
    const bk_repeat_row *own = &r->rows[r->own];
    const double off_mm = bk_carried_off_mm(&out->carried, i, answer, bk_repeat_scale(r));
    char *why = out->why[i];
    if (out->carried.hidden[i][0])
        bk_format(why, sizeof out->why[i], "%s", out->carried.hidden[i]);
    else if (off_mm > BK_OFF_COURSE_MM)
        bk_format(why, sizeof out->why[i],
                  "cannot say: the axis measured lies up to %.1f mm from where the limb was followed to, at most %.1f mm was expected",
                  off_mm, BK_OFF_COURSE_MM);
    else if (isfinite(own->value[i][0]) && (out->value[i][0] <= 0) != (own->value[i][0] <= 0))
        bk_format(why, sizeof out->why[i], "cannot say: the limb is occluded in one of the frames %d and %d only", (int)out->frame,
                  (int)own->frame);
    else if (widest(out, i) > WIDER * widest(own, i))
        bk_format(why, sizeof out->why[i],
                  "cannot say: %.2f mm wide, %.2f mm in frame %d: perhaps another vessel lies over or beside it", widest(out, i),
                  widest(own, i), (int)own->frame);
    else
        return false;
    return true;
}

/* No values where they cannot be used; nor a reference that the branching law took from a limb that is hidden. */
static void check_limbs(const bk_repeat *r, const bk_json *answer, bk_repeat_row *out)
{
    const bk_json *segments = bk_json_get(answer, "segments");
    for (int i = 0; i < BK_LIMBS; i++) {
        const bk_json *origin = bk_json_get(bk_json_get(bk_json_get(segments, bk_limb_name(i)), "reference_mm"), "origin");
        if (bk_carried_hides(&out->carried) && strcmp(bk_json_text(origin), "derived") == 0) {
            out->value[i][1] = out->value[i][2] = (double)NAN;
            bk_format(out->why[i], sizeof out->why[i], "reference: cannot say: the branching law would take it from a limb that is hidden");
        }
        if (!unusable(r, answer, out, i))
            continue;
        for (int v = 0; v < BK_REPEAT_VALUES; v++)
            out->value[i][v] = (double)NAN;
        bk_format(out->carried.hidden[i], sizeof out->carried.hidden[i], "%s", out->why[i]);
    }
}

static bool off_course(const bk_repeat *r, const bk_repeat_row *of, const bk_json *answer)
{
    bool off = false;
    for (int i = 0; i < BK_LIMBS; i++)
        off = off || bk_carried_off_mm(&of->carried, i, answer, bk_repeat_scale(r)) > BK_OFF_COURSE_MM;
    return off;
}

/* The frame is measured like any other; only where the paths leave the carried course, or a limb is hidden, are they
   held to it. */
static bk_status measure_on_course(const bk_repeat *r, const bk_repeat_row *of, bk_measure_options *options, bk_json **answer, bk_err *err)
{
    if (bk_carried_hides(&of->carried))
        options->course = &of->carried.course;
    const bk_status status = bk_app_measure(options, answer, err);
    if (status != BK_OK || options->course || !off_course(r, of, *answer))
        return status;
    bk_json_free(*answer);
    options->course = &of->carried.course;
    return bk_app_measure(options, answer, err);
}

static bk_status measure_row(bk_repeat *r, bk_repeat_row *out, bk_err *err)
{
    bk_measure_options options = *r->options;
    bk_json *answer;
    bk_err local = {0};
    bk_corrections said;
    if (said_in(r, out, &r->keep, &said, err) != BK_OK)
        return err->status;
    options.corrections_read = &said;
    options.frame = out->frame;
    options.mm_per_px = r->mm_per_px;
    options.has_catheter = options.has_marker = false; /* the scale is taken from the answer */
    options.overlay_png = NULL;
    for (int k = 0; k < BK_LIMBS; k++) {
        options.click_px[k][0] = out->point[k].x;
        options.click_px[k][1] = out->point[k].y;
    }
    bk_status status = measure_on_course(r, out, &options, &answer, &local);
    if (status == BK_E_INTERNAL || status == BK_E_IO)
        return bk_fail(err, status, "%s", local.message);
    if (status != BK_OK) {
        bk_format(out->reason, sizeof out->reason, "%s", local.message);
        return BK_OK;
    }
    status = take_row(r, answer, out, err);
    check_limbs(r, answer, out);
    bk_json_free(answer);
    return status;
}

/* An edge is drawn where one frame shows it. Along itself nothing tells how it moves, across it an error of a pixel would be
   an error of the lumen, and with both edges drawn the same drawing would be counted as n measurements. */
static bk_status refuse_edges(const bk_corrections *said, bk_err *err)
{
    return said->edge.n == 0 ? BK_OK
                             : bk_fail(err, BK_E_USAGE, "--repeat was found with a drawn edge, which holds for its own frame only: "
                                                        "one of the two was expected");
}

bk_status bk_app_repeat_allowed(const bk_measure_options *options, bk_err *err)
{
    bk_arena arena;
    bk_corrections said;
    bk_arena_init(&arena, BK_REPEAT_MEMORY);
    bk_status status = bk_app_corrections_read(&options->corrections, SIDE_MAX, SIDE_MAX, &arena, &said, err);
    if (status == BK_OK)
        status = refuse_edges(&said, err);
    bk_arena_clear(&arena);
    return status;
}

static bk_status run(bk_repeat *r, int n, bk_json *answer, bk_err *err)
{
    bk_status status = bk_dicom_open(r->options->path, &r->file, err);
    if (status != BK_OK)
        return status;
    bk_dicom_describe(r->file, &r->info);
    status = bk_app_corrections_read(&r->options->corrections, r->info.rows, r->info.cols, &r->keep, &r->said, err);
    if (status == BK_OK)
        status = refuse_edges(&r->said, err);
    if (status != BK_OK)
        return status;
    bk_repeat_choose_frames(r, n);
    bk_carried_take(answer, bk_repeat_scale(r), &r->rows[r->own].carried);
    status = bk_repeat_carry(r, -1, err);
    if (status == BK_OK)
        status = bk_repeat_carry(r, 1, err);
    if (status == BK_OK)
        status = bk_limb_filling_start(answer, bk_repeat_scale(r), &r->keep, r->filling, err);
    if (status == BK_OK)
        status = take_row(r, answer, &r->rows[r->own], err);
    for (int step = -1; step <= 1; step += 2) /* outwards */
        for (int i = r->own + step; status == BK_OK && i >= 0 && i < r->n; i += step) {
            bk_carried_hide_as(&r->rows[i - step].carried, &r->rows[i].carried);
            if (!r->rows[i].reason[0])
                status = measure_row(r, &r->rows[i], err);
        }
    if (status == BK_OK) {
        bk_repeat_judge_filling(r, answer);
        bk_repeat_describe(r, answer);
    }
    return status;
}

bk_status bk_app_repeat(const bk_measure_options *options, int n, bk_json *answer, bk_err *err)
{
    bk_repeat r = {.options = options};
    r.mm_per_px = bk_json_number(bk_json_path(answer, "calibration.mm_per_px"));
    bk_arena_init(&r.keep, BK_REPEAT_MEMORY);
    const bk_status status = run(&r, n, answer, err);
    bk_dicom_close(r.file);
    bk_arena_clear(&r.keep);
    return status;
}
