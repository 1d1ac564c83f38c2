/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/pick.h"

#include <math.h>
#include <string.h>

#include "app/app.h"
#include "app/intensity.h"
#include "app/warnings.h"
#include "base/format.h"
#include "core/anatomy/calibration.h"
#include "core/image/cine.h"
#include "core/image/pick.h"

#define MEMORY_CAP ((size_t)1 << 30)

typedef struct run {
    bk_arena arena;
    bk_dicom *file;
    bk_dicom_info info;
    bk_pick *pick;
    int32_t *frame; /* numbers of the frames that can be used, rising */
    int32_t frame_n;
    double *times_ms, *phase_pct; /* of those; NULL when not known */
    bk_json *warnings;
    bk_pick_result found;
} run;

static bk_status start(run *r, const char *path, bk_err *err)
{
    bk_status status = bk_dicom_open(path, &r->file, err);
    if (status != BK_OK)
        return status;
    bk_dicom_describe(r->file, &r->info);
    bk_warnings_of_file(r->warnings, &r->info);
    unsigned char *mask;
    status = bk_app_shutter_mask(&r->info, &r->arena, &mask, err);
    if (status != BK_OK)
        return status;
    const bk_evidence_set *evidence = bk_evidence_builtin();
    bk_scale_route route = {.mm_per_px = bk_scale_usual(r->info.cols)};
    if (!bk_scale_by_isocentre(r->info.imager_spacing_mm[1], r->info.sod_mm, r->info.sid_mm, evidence, &route))
        route.mm_per_px = bk_scale_usual(r->info.cols);
    const bk_pick_options options = {
        .rows = r->info.rows, .cols = r->info.cols, .frames = r->info.frames, .grey = bk_app_grey(&r->info),
        .mm_per_px = route.mm_per_px, .mask = mask,
        .resting_speed_mm_s = 1000 * bk_evidence_value(evidence, BK_EVIDENCE("pick_rest_mm")) /
                              bk_evidence_value(evidence, BK_EVIDENCE("pick_rest_ms"))};
    r->frame = BK_NEW(&r->arena, r->info.frames, int32_t, err);
    return r->frame ? bk_pick_start(&options, &r->arena, &r->pick, err) : err->status;
}

/* First time through; a frame that cannot be decoded, or is one flat grey, is left out. */
static bk_status learn(run *r, bk_err *err)
{
    for (int32_t k = 1; k <= r->info.frames; k++) {
        bk_image image;
        bk_err local = {0};
        const bk_arena_mark mark = bk_arena_take_mark(&r->arena);
        bk_status status = bk_app_log_frame(r->file, &r->info, k, &r->arena, &image, &local);
        if (status == BK_E_DATA) {
            char message[320];
            bk_format(message, sizeof message, "frame %d is left out: %s", (int)k, local.message);
            bk_warnings_add(r->warnings, "frame_left_out", message);
        } else if (status != BK_OK) {
            return bk_fail(err, status, "%s", local.message);
        } else {
            r->frame[r->frame_n++] = k;
            status = bk_pick_learn(r->pick, &image, err);
            if (status != BK_OK)
                return status;
        }
        bk_arena_rewind(&r->arena, mark);
    }
    return r->frame_n ? BK_OK : bk_fail(err, BK_E_NOTHING, "no frame of %d could be used", (int)r->info.frames);
}

static bk_status look(run *r, bk_err *err)
{
    bk_status status = BK_OK;
    for (int32_t i = 0; status == BK_OK && i < r->frame_n; i++) {
        bk_image image;
        const bk_arena_mark mark = bk_arena_take_mark(&r->arena);
        status = bk_app_log_frame(r->file, &r->info, r->frame[i], &r->arena, &image, err);
        if (status == BK_OK)
            status = bk_pick_look(r->pick, &image, err);
        bk_arena_rewind(&r->arena, mark);
    }
    return status;
}

static bk_status find_times(run *r, bk_err *err)
{
    const size_t n = r->info.frame_times_n;
    if (n < (size_t)r->info.frames)
        return BK_OK;
    double *all = BK_NEW(&r->arena, n, double, err);
    int32_t *waves = BK_NEW(&r->arena, r->info.r_waves_n, int32_t, err);
    r->times_ms = BK_NEW(&r->arena, r->frame_n, double, err);
    double *phase = BK_NEW(&r->arena, r->frame_n, double, err);
    if (!all || !waves || !r->times_ms || !phase)
        return err->status;
    const size_t times_n = bk_dicom_frame_times(r->file, all, n);
    const size_t waves_n = bk_dicom_r_waves(r->file, waves, r->info.r_waves_n);
    for (int32_t i = 0; i < r->frame_n; i++) {
        r->times_ms[i] = all[r->frame[i] - 1];
        phase[i] = bk_cine_phase_pct(all, times_n, waves, waves_n, r->frame[i]);
        if (isfinite(phase[i]))
            r->phase_pct = phase;
    }
    return BK_OK;
}

static void judge(run *r)
{
    if (r->info.frames == 1) {
        bk_warnings_add(r->warnings, "one_frame", "the file has one frame: there is nothing to choose from");
        return;
    }
    if (!r->found.filling_changes)
        bk_warnings_add(r->warnings, "filling_alike", "vessels look alike in all frames: all are filled, or none is; look before you measure");
    if (!r->times_ms)
        bk_warnings_add(r->warnings, "no_times", "the file has no frame times: 15 frames a second are assumed for the speed of motion");
    if (!r->phase_pct)
        bk_warnings_add(r->warnings, "no_phase", "no two R waves with times in the file: end-diastole cannot be preferred");
}

static bk_json *frame_json(const run *r, int32_t number)
{
    const int32_t i = number - 1;
    const bk_pick_frame *f = &r->found.frame[i];
    bk_json *out = bk_json_object();
    bk_json_put_integer(out, "frame", r->frame[i]);
    bk_json_put_fixed(out, "score", f->score, 2);
    bk_json_put_fixed(out, "filling", f->filling, 4);
    bk_json_put_fixed(out, "sharpness", f->sharpness, 4);
    bk_json_put_fixed(out, "stillness", isfinite(f->stillness) ? f->stillness : 0, 4);
    bk_json_put_bool(out, "stillness_known", isfinite(f->stillness));
    bk_json_put_fixed(out, "speed_mm_s", f->speed_mm_s, 2);
    bk_json_put_fixed(out, "phase_pct", r->phase_pct ? r->phase_pct[i] : (double)NAN, 1);
    return out;
}

static bk_json *describe(run *r)
{
    bk_json *doc = bk_json_object(), *frames = bk_json_array();
    bk_json_put_text(doc, "schema", "branchkeep.pick/1");
    bk_json_put_text(doc, "engine", bk_engine);
    for (int32_t i = 0; i < r->frame_n; i++)
        bk_json_push(frames, frame_json(r, r->found.order[i]));
    bk_json_put(doc, "frames", frames);
    bk_json_put_text(doc, "score_is",
                     "100 x min(filling/0.9, 1)^2 x (1 + sharpness)/2 x (1 + stillness)/2 x (0.9 + 0.1 diastole); what is not "
                     "known counts 1");
    bk_json_put_bool(doc, "end_diastole_preferred", r->phase_pct != NULL);
    bk_json_put(doc, "warnings", r->warnings);
    bk_json_put_text(doc, "caution", bk_caution);
    r->warnings = NULL;
    return doc;
}

bk_status bk_app_pick(const char *path, bk_json **out, bk_err *err)
{
    run r = {.warnings = bk_json_array()};
    *out = NULL;
    bk_arena_init(&r.arena, MEMORY_CAP);
    bk_status status = start(&r, path, err);
    if (status == BK_OK)
        status = learn(&r, err);
    if (status == BK_OK)
        status = look(&r, err);
    if (status == BK_OK)
        status = find_times(&r, err);
    if (status == BK_OK)
        status = bk_pick_finish(r.pick, r.times_ms, r.phase_pct, &r.found, err);
    if (status == BK_OK) {
        judge(&r);
        *out = describe(&r);
    }
    bk_json_free(r.warnings);
    bk_dicom_close(r.file);
    bk_arena_clear(&r.arena);
    return status;
}
