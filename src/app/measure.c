/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/measure.h"

#include <math.h>
#include <string.h>

#include "app/app.h"
#include "app/intensity.h"
#include "app/measure_json.h"
#include "app/measure_request.h"
#include "base/file.h"
#include "base/format.h"
#include "core/anatomy/calibration.h"
#include "core/anatomy/corrections.h"
#include "core/image/cine.h"
#include "dicom/dicom.h"
#include "report/report.h"

#define MEMORY_CAP ((size_t)1 << 30)

const char *const bk_measure_stages[] = {"baseline", "predilated", "stented", "final", "other", NULL};

typedef struct job {
    const bk_measure_options *options;
    bk_arena arena;
    bk_dicom *file;
    bk_dicom_info info;
    uint16_t *px;
    bk_image intensity;
    bk_grey grey;
    bk_scale scale;
    double phase_pct;
    bk_corrections corrections;
    bk_bifurcation found;
} job;

static bk_status open_frame(job *j, bk_err *err)
{
    bk_status status = bk_dicom_open(j->options->path, &j->file, err);
    if (status != BK_OK)
        return status;
    bk_dicom_describe(j->file, &j->info);
    j->grey = bk_app_grey(&j->info);
    const size_t n = (size_t)j->info.rows * (size_t)j->info.cols;
    j->px = BK_NEW(&j->arena, n, uint16_t, err);
    if (!j->px)
        return err->status;
    return bk_dicom_frame(j->file, j->options->frame, j->px, n, err);
}

static bk_status scale_by_catheter(job *j, bk_err *err)
{
    const bk_measure_options *o = j->options;
    const double *c = o->catheter;
    const bk_catheter catheter = {{c[0], c[1], c[2], c[3]}, c[4], o->catheter_filled};
    bk_scale_route route;
    bk_image log_image;
    bk_status status = bk_image_log(&j->intensity, j->grey, &j->arena, &log_image, err);
    if (status == BK_OK)
        status = bk_scale_by_catheter(&log_image, &catheter, bk_evidence_builtin(), &j->arena, &route, err);
    if (status == BK_OK)
        bk_scale_add(&j->scale, route);
    return status;
}

static bk_status find_scale(job *j, bk_err *err)
{
    const bk_measure_options *o = j->options;
    const bk_evidence_set *evidence = bk_evidence_builtin();
    bk_scale_route route;
    bk_status status = BK_OK;
    if (bk_scale_by_isocentre(j->info.imager_spacing_mm[1], j->info.sod_mm, j->info.sid_mm, evidence, &route))
        bk_scale_add(&j->scale, route);
    if (isfinite(o->mm_per_px))
        bk_scale_add(&j->scale, (bk_scale_route){BK_SCALE_ENTERED, o->mm_per_px, 0});
    if (o->has_marker) {
        status = bk_scale_by_marker(o->marker, o->marker[4], evidence, &route, err);
        if (status == BK_OK)
            bk_scale_add(&j->scale, route);
    }
    if (status == BK_OK && o->has_catheter)
        status = scale_by_catheter(j, err);
    bk_scale_judge(&j->scale, evidence);
    return status;
}

static bk_status read_corrections(job *j, bk_err *err)
{
    bk_corrections *c = &j->corrections;
    bk_status status = BK_OK;
    if (j->options->corrections_read)
        *c = *j->options->corrections_read;
    else
        status = bk_app_corrections_read(&j->options->corrections, j->info.rows, j->info.cols, &j->arena, c, err);
    if (status == BK_OK && j->scale.routes_n == 0 && (c->exclude.n > 0 || c->reference.n > 0))
        return bk_fail(err, bk_corrections_blame(c), "a correction in mm was found but no scale, --mm-per-px or another way to one was expected");
    return status;
}

static bk_status measure(job *j, bk_err *err)
{
    unsigned char *mask;
    const bk_measure_options *o = j->options;
    bk_status status = bk_app_shutter_mask(&j->info, &j->arena, &mask, err);
    if (status == BK_OK)
        status = read_corrections(j, err);
    if (status != BK_OK)
        return status;
    bk_measure_input input = {.intensity = &j->intensity, .grey = j->grey, .mask = mask, .lossy = j->info.lossy,
                              .evidence = bk_evidence_builtin(), .law = bk_law_hk(bk_evidence_builtin()), .corrections = &j->corrections};
    for (int i = 0; i < BK_LIMBS; i++)
    {
        input.click[i] = (bk_pt_px){o->click_px[i][0], o->click_px[i][1]};
        input.wire[i] = o->wire_in[i];
    }
    bk_corrections_swap(&j->corrections, input.click);
    input.mm_per_px = j->scale.routes_n ? j->scale.route[0].mm_per_px : bk_scale_usual(j->info.cols);
    input.medina_threshold_pct = isfinite(o->medina_threshold_pct) ? o->medina_threshold_pct : 50;
    return bk_bifurcation_measure(&input, &j->arena, &j->found, err);
}

static bk_status find_phase(job *j, bk_err *err)
{
    j->phase_pct = NAN;
    if (j->info.r_waves_n < 2 || j->info.frame_times_n < (size_t)j->info.frames)
        return BK_OK;
    double *times = BK_NEW(&j->arena, j->info.frame_times_n, double, err);
    int32_t *r_waves = BK_NEW(&j->arena, j->info.r_waves_n, int32_t, err);
    if (!times || !r_waves)
        return err->status;
    const size_t n = bk_dicom_frame_times(j->file, times, j->info.frame_times_n);
    const size_t r_n = bk_dicom_r_waves(j->file, r_waves, j->info.r_waves_n);
    j->phase_pct = bk_cine_phase_pct(times, n, r_waves, r_n, j->options->frame);
    return BK_OK;
}

static void warn_of_wires(job *j)
{
    char limbs[48] = "";
    for (int i = 0; i < BK_LIMBS; i++)
        if (j->options->wire_in[i])
            bk_format(limbs + strlen(limbs), sizeof limbs - strlen(limbs), "%s%s", limbs[0] ? ", " : "", bk_limb_name(i));
    if (limbs[0])
        bk_bifurcation_warn(&j->found, "wire_in_limb", "a wire lies in the vessel (%s) and was reckoned out as far as it shows: diameters are less certain than without",
                            limbs);
}

/* Doubts about the file and the scale; those about the fit were added by the measurement itself. */
static void add_warnings(job *j)
{
    bk_bifurcation *b = &j->found;
    for (size_t i = 0; i < j->info.warnings_n; i++)
        bk_bifurcation_warn(b, j->info.warnings[i].code, "%s", j->info.warnings[i].message);
    if (j->scale.routes_n == 0)
        bk_bifurcation_warn(b, "no_scale", "no spacing, SOD and SID in the file and no calibration given: sizes in mm are withheld");
    if (j->scale.disagree)
        bk_bifurcation_warn(b, "scale_disagrees", "two routes to the scale differ by %.0f %%: sizes in mm carry that as SD",
                            100 * j->scale.disagreement);
    if (j->options->has_catheter && j->options->catheter_filled == BK_UNKNOWN)
        bk_bifurcation_warn(b, "catheter_filling", "catheter calibration without saying whether it was filled: the band is wider");
    if (j->grey != BK_GREY_LINEAR)
        bk_bifurcation_warn(b, "not_linear", "pixel values are not proportional to intensity: edges are used, not densities; a wire in a limb must be said");
    const double limit = bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("lossy_ratio_limit"));
    if (j->info.lossy_ratio > limit)
        bk_bifurcation_warn(b, "lossy", "compressed %.0f to 1; above %.0f to 1 small diameters change", j->info.lossy_ratio, limit);
    bk_bifurcation_warn(b, "one_view", "one view: lengths are projected (at least so long), angles too, and an oval lumen may hide");
    warn_of_wires(j);
}

static bk_json *source_json(const job *j, bk_err *err)
{
    char sha[65], sop[65], patient[65];
    if (j->options->file_sha256)
        bk_format(sha, sizeof sha, "%s", j->options->file_sha256);
    else if (bk_file_sha256(j->options->path, sha, err) != BK_OK)
        return NULL;
    bk_dicom_hashes(j->file, sop, patient);
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "file_sha256", sha);
    bk_json_put_text(out, "sop_uid_hash", sop[0] ? sop : NULL);
    bk_json_put_text(out, "patient_hash", patient[0] ? patient : NULL);
    bk_json_put_fixed(out, "phase_pct", j->phase_pct, 1);
    bk_json_put_integer(out, "frame", j->options->frame);
    bk_json_put_integer(out, "rows", j->info.rows);
    bk_json_put_integer(out, "columns", j->info.cols);
    return out;
}

static bk_json *geometry_json(const bk_dicom_info *info)
{
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "primary_deg", info->primary_deg, 3);
    bk_json_put_fixed(out, "secondary_deg", info->secondary_deg, 3);
    bk_json_put_fixed(out, "sid_mm", info->sid_mm, 3);
    bk_json_put_fixed(out, "sod_mm", info->sod_mm, 3);
    if (isfinite(info->imager_spacing_mm[0]))
        bk_json_put_reals(out, "imager_spacing_mm", info->imager_spacing_mm, 2, 6);
    else
        bk_json_put_null(out, "imager_spacing_mm");
    return out;
}

static bk_json *route_json(const bk_scale_route *route)
{
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "origin", bk_scale_origin_name(route->origin));
    bk_json_put_fixed(out, "mm_per_px", route->mm_per_px, 6);
    bk_json_put_fixed(out, "sd_pct", route->sd_pct, 2);
    return out;
}

static bk_json *calibration_json(const bk_scale *scale, const bk_measure_options *o)
{
    bk_json *out = scale->routes_n ? route_json(&scale->route[0]) : bk_json_object(), *routes = bk_json_array();
    if (!scale->routes_n) {
        bk_json_put_null(out, "mm_per_px");
        bk_json_put_null(out, "sd_pct");
        bk_json_put_null(out, "origin");
    }
    for (int i = 0; i < scale->routes_n; i++)
        bk_json_push(routes, route_json(&scale->route[i]));
    bk_json_put(out, "routes", routes);
    bk_json_put_text(out, "agreement", bk_scale_agreement(scale));
    bk_json_put(out, "given", bk_app_scale_given(o));
    return out;
}

static bk_json *clicks_json(const bk_measure_options *o)
{
    bk_json *out = bk_json_object();
    for (int i = 0; i < BK_LIMBS; i++)
        bk_json_put_reals(out, bk_limb_name(i), o->click_px[i], 2, 2);
    return out;
}

static bk_status describe(const job *j, bk_json **out, bk_err *err)
{
    const bk_measure_options *o = j->options;
    bk_json *source = source_json(j, err);
    if (!source)
        return err->status;
    bk_json *wires = bk_json_array(), *doc = bk_json_object();
    for (int i = 0; i < BK_LIMBS; i++)
        if (o->wire_in[i])
            bk_json_push(wires, bk_json_new_text(bk_limb_name(i)));
    bk_json_put_text(doc, "schema", "branchkeep.measurement/1");
    bk_json_put_text(doc, "engine", bk_engine);
    bk_json_put(doc, "source", source);
    bk_json_put_text(doc, "stage", o->stage ? o->stage : bk_measure_stages[0]);
    bk_json_put_text(doc, "acquired_at", j->info.acquired_at[0] ? j->info.acquired_at : NULL);
    bk_json_put_text(doc, "nitrate", bk_tri_name(o->nitrate));
    bk_json_put(doc, "wire_in_limb", wires);
    bk_json_put(doc, "geometry", geometry_json(&j->info));
    bk_json_put(doc, "calibration", calibration_json(&j->scale, o));
    bk_json_put(doc, "clicks_px", clicks_json(o)); /* as given: corrections.swap comes after */
    bk_json_put(doc, "corrections", bk_app_corrections_json(&j->corrections));
    bk_measure_json_fill(doc, &j->found, j->scale.routes_n > 0, j->scale.disagreement);
    bk_json_put_fixed(doc, "medina_threshold_pct", isfinite(o->medina_threshold_pct) ? o->medina_threshold_pct : 50, 2);
    bk_json_put_text(doc, "caution", bk_caution);
    *out = doc;
    return BK_OK;
}

static bk_status write_overlay(const job *j, const bk_json *doc, bk_err *err)
{
    bk_report_picture picture = {j->px, j->info.rows, j->info.cols, 0, 1, j->info.monochrome1};
    bk_report_window(&picture);
    return bk_report_overlay_png(j->options->overlay_png, &picture, doc, err);
}

bk_status bk_app_measure(const bk_measure_options *options, bk_json **out, bk_err *err)
{
    job j = {.options = options};
    *out = NULL;
    bk_arena_init(&j.arena, MEMORY_CAP);
    bk_status status = open_frame(&j, err);
    if (status == BK_OK)
        status = bk_app_intensity(j.file, &j.info, j.px, &j.arena, &j.intensity, err);
    if (status == BK_OK)
        status = find_scale(&j, err);
    if (status == BK_OK)
        status = measure(&j, err);
    if (status == BK_OK)
        status = find_phase(&j, err);
    if (status == BK_OK) {
        add_warnings(&j);
        status = describe(&j, out, err);
    }
    if (status == BK_OK && options->overlay_png) {
        status = write_overlay(&j, *out, err);
        if (status != BK_OK) {
            bk_json_free(*out);
            *out = NULL;
        }
    }
    bk_dicom_close(j.file);
    bk_arena_clear(&j.arena);
    return status;
}
