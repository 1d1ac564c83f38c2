/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/repeat.h"

#include <math.h>
#include <string.h>

#include "app/intensity.h"
#include "app/repeat_inside.h"
#include "base/format.h"

#define SIDE_MAX 65536 /* rows and columns of DICOM are 16 bits */

const char *const bk_repeat_values[BK_REPEAT_VALUES] = {"mld_mm", "reference_mm", "stenosis_pct"};

static void take_values(const bk_json *answer, bk_repeat_row *out)
{
    const bk_json *segments = bk_json_get(answer, "segments");
    for (int k = 0; k < BK_LIMBS; k++)
        for (int v = 0; v < BK_REPEAT_VALUES; v++)
            out->value[k][v] = bk_json_number(bk_json_get(bk_json_get(bk_json_get(segments, bk_limb_name(k)), bk_repeat_values[v]), "value"));
}

/* What was said, with the way-points where they are in a row's frame, and the leads as way-points. Stretches are mm from the branch
   point, which goes with the vessel itself. */
static bk_status said_in(const bk_repeat *r, const bk_repeat_row *at, bk_arena *arena, bk_corrections *out, bk_err *err)
{
    bk_way_point *via = BK_NEW(arena, r->points_n - BK_LIMBS, bk_way_point, err);
    if (!via)
        return err->status;
    size_t n = 0;
    for (size_t i = 0; i < r->said.via.n; i++)
        via[n++] = (bk_way_point){BK_ITEMS(r->said.via, bk_way_point)[i].limb, at->point[BK_LIMBS + i].x, at->point[BK_LIMBS + i].y};
    for (size_t k = r->leads_from; k < r->points_n; k++)
        if (!at->lost[k])
            via[n++] = (bk_way_point){r->lead_limb[k - r->leads_from] + 1, at->point[k].x, at->point[k].y};
    *out = r->said;
    out->via = (bk_list){.items = via, .n = n};
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
    bk_status status = bk_app_measure(&options, &answer, &local);
    if (status == BK_E_INTERNAL || status == BK_E_IO)
        return bk_fail(err, status, "%s", local.message);
    if (status != BK_OK) {
        bk_format(out->reason, sizeof out->reason, "%s", local.message);
        return BK_OK;
    }
    status = take_row(r, answer, out, err);
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
    bk_repeat_choose_leads(r, answer);
    status = bk_repeat_carry(r, -1, err);
    if (status == BK_OK)
        status = bk_repeat_carry(r, 1, err);
    if (status == BK_OK)
        status = bk_limb_filling_start(answer, bk_repeat_scale(r), &r->keep, r->filling, err);
    if (status == BK_OK)
        status = take_row(r, answer, &r->rows[r->own], err);
    for (int i = 0; status == BK_OK && i < r->n; i++)
        if (i != r->own && !r->rows[i].reason[0])
            status = measure_row(r, &r->rows[i], err);
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
