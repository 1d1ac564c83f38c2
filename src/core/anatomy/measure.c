/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The order of a measurement: trace, find edges, find the branch point, fit, then the numbers. */
#include <math.h>
#include <stdarg.h>
#include <string.h>

#include "base/format.h"
#include "core/anatomy/angles.h"
#include "core/anatomy/bifurcation.h"
#include "core/anatomy/branch.h"
#include "core/anatomy/law_check.h"
#include "core/anatomy/medina.h"
#include "core/anatomy/segment.h"
#include "core/anatomy/trace.h"
#include "core/anatomy/window.h"
#include "core/image/edges.h"
#include "core/image/gauss.h"

#define AXIS_STEP_PX 0.5
#define START_STEP_PX 1.0  /* while edges are only looked for to start the density fit */
#define LIMB_MIN_PX 12.0   /* beyond the core */
#define EDGE_BLUR_PX 1.0   /* smoothing before edges are looked for */
#define CLICK_SD_PX 0.5    /* where a click ends the measured range */
#define WINDOW_MM 9.0      /* stretch of axis that is continued to the branch point */
#define ASSUMED_SCATTER 0.12 /* part of the detected intensity; a wrong guess of 0.1 moves diameters by 0.015 mm */
#define DEFAULT_PSF_MM 0.13 /* Gaussian SD of a room's blur at the patient, when the file does not tell */

/* Everything known about the three limbs while it is being improved. */
typedef struct work {
    const bk_measure_input *in;
    const bk_window *window;
    bk_arena *arena;
    bk_image log_image, edge_image; /* the second is smoothed by EDGE_BLUR_PX and takes the first's place */
    bk_edge_table edge_table;
    bool quick;     /* the edges only start a density fit */
    double step_px; /* of the axes */
    double psf_px;
    bk_curve axis[BK_LIMBS]; /* from the branch point outwards once it is known */
    double *radius_px[BK_LIMBS];
    size_t first[BK_LIMBS];  /* sample of axis where limb.axis begins */
    size_t alone[BK_LIMBS];  /* first sample of limb that stands clear of the other limbs */
    bk_lumen_limb limb[BK_LIMBS];
    bk_branch branch;
    bk_tube tube[BK_LIMBS];
    bk_core core;
} work;

static bk_status follow_edges(work *w, int i, bk_err *err)
{
    const double blur = sqrt(w->psf_px * w->psf_px + EDGE_BLUR_PX * EDGE_BLUR_PX);
    const size_t first = w->first[i];
    const bk_curve part = {w->axis[i].points + first, w->axis[i].n - first, w->axis[i].step_px};
    const bk_edge_options options = {w->in->mm_per_px, blur, &w->edge_table, w->alone[i], w->quick};
    bk_status status = bk_edges_follow(&w->edge_image, &part, w->radius_px[i] + first, &options, w->arena, &w->limb[i], err);
    if (status != BK_OK)
        return bk_fail_in(err, bk_limb_name(i));
    w->limb[i].first_px = (double)first * w->axis[i].step_px;
    return BK_OK;
}

/* Radii of the fitted limb at every sample of an axis that continues it to the branch point. */
static bk_status spread_radii(work *w, int i, double lead_px, bk_err *err)
{
    w->radius_px[i] = BK_NEW(w->arena, w->axis[i].n, double, err);
    if (!w->radius_px[i])
        return err ? err->status : BK_E_LIMIT;
    const bk_lumen_limb *limb = &w->limb[i];
    for (size_t k = 0; k < w->axis[i].n; k++) {
        const double at = ((double)k * w->axis[i].step_px - lead_px) / limb->step_px;
        const size_t j = at <= (double)w->alone[i] ? w->alone[i] : (size_t)at;
        w->radius_px[i][k] = 0.5 * limb->diameter_px[j < limb->n ? j : limb->n - 1];
    }
    return BK_OK;
}

/* Branch point from the present axes; then every axis begins there. */
static bk_status rebase(work *w, bk_err *err)
{
    bk_curve present[BK_LIMBS];
    for (int i = 0; i < BK_LIMBS; i++)
        present[i] = (bk_curve){w->limb[i].axis, w->limb[i].n, w->limb[i].step_px};
    bk_status status = bk_branch_find(present, w->alone, WINDOW_MM / w->in->mm_per_px, &w->branch, err);
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++) {
        status = bk_branch_axis(&w->branch, i, &present[i], w->alone[i], w->step_px, w->arena, &w->axis[i], err);
        /* arc length, on the new axis, of the limb's sample 0 */
        const double lead = -w->branch.start[i].to_branch_px - (double)w->alone[i] * w->limb[i].step_px;
        if (status == BK_OK)
            status = spread_radii(w, i, lead, err);
    }
    return status;
}

static bk_status make_tubes(work *w, bk_err *err)
{
    for (int i = 0; i < BK_LIMBS; i++) {
        double *diameter = BK_NEW(w->arena, w->axis[i].n, double, err);
        if (!diameter)
            return err ? err->status : BK_E_LIMIT;
        for (size_t k = 0; k < w->axis[i].n; k++)
            diameter[k] = 2 * w->radius_px[i][k];
        w->tube[i] = (bk_tube){w->axis[i], diameter};
    }
    return bk_core_find(w->tube, w->branch.point, w->arena, &w->core, err);
}

/* First look: edges from a little beyond where the paths part. */
static bk_status first_look(work *w, const bk_trace *trace, bk_err *err)
{
    bk_status status = BK_OK;
    const double parent_px = 2 * trace->radius_px[BK_PROXIMAL][trace->limb[BK_PROXIMAL].n / 2];
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++) {
        w->axis[i] = trace->limb[i];
        w->radius_px[i] = trace->radius_px[i];
        w->first[i] = 0;
        const size_t clear = (size_t)(1.1 * parent_px / w->axis[i].step_px);
        const size_t least = (size_t)(LIMB_MIN_PX / w->axis[i].step_px);
        const size_t most = w->axis[i].n > least ? w->axis[i].n - least : 0;
        w->alone[i] = clear < most ? clear : most;
        status = follow_edges(w, i, err);
    }
    return status;
}

/* Second look: the branch point and the core are known, so each limb is followed from its ostium. */
static bk_status second_look(work *w, bk_err *err)
{
    bk_status status = rebase(w, err);
    if (status == BK_OK)
        status = make_tubes(w, err);
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++) {
        const size_t first = (size_t)(w->core.ostium_px[i] / w->axis[i].step_px);
        const size_t alone = bk_tube_alone_from(w->tube, i, 1.0);
        const size_t least = (size_t)(LIMB_MIN_PX / w->axis[i].step_px);
        if (w->axis[i].n < first + least)
            return bk_fail(err, BK_E_NOTHING,
                           "the %s limb ends %.0f px from the branch point, inside or just outside the core of %.0f px",
                           bk_limb_name(i), (double)w->axis[i].n * w->axis[i].step_px, w->core.radius_px);
        const size_t most = w->axis[i].n - first - least * 2 / 3;
        w->first[i] = first;
        w->alone[i] = alone > first ? alone - first : 0;
        if (w->alone[i] > most)
            w->alone[i] = most;
        status = follow_edges(w, i, err);
    }
    return status;
}

static void take_fit(work *w, const bk_lumen_fit *fit, bk_bifurcation *out)
{
    double contrast = 0, noise = 0;
    for (int i = 0; i < BK_LIMBS; i++) {
        const size_t first = (size_t)lround(fit->limb[i].first_px / w->axis[i].step_px);
        const size_t clear = (size_t)((double)(w->first[i] + w->alone[i]) * w->limb[i].step_px / w->axis[i].step_px);
        w->limb[i] = fit->limb[i];
        w->first[i] = first;
        w->alone[i] = clear > first ? clear - first : 0;
        contrast += fit->limb[i].density_per_px / w->in->mm_per_px / BK_LIMBS;
        noise += fit->limb[i].noise / BK_LIMBS;
    }
    out->by_density = true;
    out->contrast_per_mm = contrast;
    out->noise = noise;
    w->psf_px = fit->psf_sigma_px;
}

/* The model fit on the original pixels, started from the edges. Where densities cannot be used, *used stays false. */
static bk_status fit_density(work *w, bool *used, bk_bifurcation *out, bk_err *err)
{
    bk_lumen_start start[BK_LIMBS];
    bk_lumen_fit *fit = BK_NEW(w->arena, 1, bk_lumen_fit, err);
    if (!fit)
        return err ? err->status : BK_E_LIMIT;
    for (int i = 0; i < BK_LIMBS; i++)
        start[i] = (bk_lumen_start){w->axis[i].points, w->tube[i].diameter_px, w->axis[i].n, w->axis[i].step_px,
                                    w->core.ostium_px[i]};
    const bk_lumen_options options = {.mm_per_px = w->in->mm_per_px, .scatter_fraction = ASSUMED_SCATTER,
                                      .psf_sigma_px = w->in->psf_sigma_px, .mask = w->in->mask,
                                      .whole = w->window->whole, .whole_mask = w->window->whole_mask,
                                      .row0 = w->window->row0, .col0 = w->window->col0};
    bk_err reason = {0};
    const bk_status status = bk_lumen_fit_limbs(w->in->intensity, start, &options, w->arena, fit, &reason);
    *used = status == BK_OK;
    if (status == BK_E_NOTHING) {
        bk_bifurcation_warn(out, "edges_only", "densities could not be used: %.100s", reason.message);
        return BK_OK;
    }
    if (status != BK_OK)
        return bk_fail(err, status, "%s", reason.message);
    take_fit(w, fit, out);
    return BK_OK;
}

/* The second look again, now with care: the edges are the answer. */
static bk_status edges_after_all(work *w, bk_err *err)
{
    w->quick = false;
    bk_status status = second_look(w, err);
    if (status == BK_OK)
        status = rebase(w, err);
    return status == BK_OK ? make_tubes(w, err) : status;
}

static bk_status densities(work *w, bk_bifurcation *out, bk_err *err)
{
    bool used = false;
    bk_status status = fit_density(w, &used, out, err);
    if (status == BK_OK && !used)
        return edges_after_all(w, err);
    if (status == BK_OK)
        status = rebase(w, err);
    return status == BK_OK ? make_tubes(w, err) : status;
}

static bk_status numbers_of_limbs(work *w, bk_bifurcation *out, bk_reference line[BK_LIMBS], bk_err *err)
{
    bk_status status = BK_OK;
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++) {
        const double origin = -w->branch.start[i].to_branch_px - (double)w->alone[i] * w->limb[i].step_px;
        const bk_segment_input input = {&w->limb[i], origin, w->core.ostium_px[i], w->in->mm_per_px};
        status = bk_segment_measure(&input, w->arena, &out->segment[i], &line[i], err);
        if (status != BK_OK)
            return bk_fail_in(err, bk_limb_name(i));
        out->segment[i].length_mm.sd = hypot(w->branch.sd_px, CLICK_SD_PX) * w->in->mm_per_px;
    }
    return status;
}

/* The core against the core that the healthy references would make on the same axes. */
static bk_status numbers_of_core(work *w, bk_bifurcation *out, const bk_reference line[BK_LIMBS], bk_err *err)
{
    const double mm = w->in->mm_per_px;
    bk_tube healthy[BK_LIMBS];
    bk_core ideal;
    for (int i = 0; i < BK_LIMBS; i++) {
        double *diameter = BK_NEW(w->arena, w->axis[i].n, double, err);
        if (!diameter)
            return err ? err->status : BK_E_LIMIT;
        const double from = out->segment[i].position_mm[0];
        for (size_t k = 0; k < w->axis[i].n; k++) {
            const double s = (double)k * w->axis[i].step_px * mm - from;
            diameter[k] = bk_reference_at(&line[i], fmax(s, 0)) / mm;
        }
        healthy[i] = (bk_tube){w->axis[i], diameter};
    }
    bk_status status = bk_core_find(healthy, w->branch.point, w->arena, &ideal, err);
    if (status != BK_OK)
        return status;
    const double sd = out->segment[BK_PROXIMAL].sd_mm[0];
    const double d = 2 * w->core.radius_px * mm, wanted = 2 * ideal.radius_px * mm;
    out->core_centre = w->core.centre;
    out->core_radius_px = w->core.radius_px;
    out->core_diameter_mm = bk_qty_of(d, sd, BK_MEASURED);
    out->core_stenosis_pct = bk_qty_of(100 * fmax(1 - d / wanted, 0), 100 * sd * sqrt(2) / wanted, BK_DERIVED);
    return BK_OK;
}

static void numbers_of_branching(const work *w, bk_bifurcation *out)
{
    const double chord = BK_ANGLE_CHORD_MM / w->in->mm_per_px, sd = w->branch.sd_px;
    const bk_curve *axis = w->axis;
    const bk_pt_px o = w->branch.point;
    out->branch_point = o;
    out->branch_point_sd = (bk_pt_px){sd, sd};
    out->carina = w->core.carina;
    out->distal_side_deg = bk_projected_angle(&axis[BK_DISTAL], &axis[BK_SIDE], o, chord, sd);
    out->proximal_side_deg = bk_projected_angle(&axis[BK_PROXIMAL], &axis[BK_SIDE], o, chord, sd);
    out->proximal_distal_deg = bk_projected_angle(&axis[BK_PROXIMAL], &axis[BK_DISTAL], o, chord, sd);
    for (int i = 0; i < BK_LIMBS; i++)
        if ((double)axis[i].n * axis[i].step_px < chord)
            bk_bifurcation_warn(out, "short_chord", "the %s limb is shorter than the %.0f mm over which angles are taken",
                                bk_limb_name(i), BK_ANGLE_CHORD_MM);
}

static bk_status numbers(work *w, bk_bifurcation *out, bk_err *err)
{
    bk_reference line[BK_LIMBS];
    bk_qty stenosis[BK_LIMBS];
    bk_status status = numbers_of_limbs(w, out, line, err);
    if (status == BK_OK)
        status = numbers_of_core(w, out, line, err);
    if (status != BK_OK)
        return status;
    bk_law_check(out, w->in->law);
    numbers_of_branching(w, out);
    for (int i = 0; i < BK_LIMBS; i++)
        stenosis[i] = out->segment[i].stenosis_pct;
    bk_medina_classify(stenosis, w->in->medina_threshold_pct, out->medina, out->medina_way, &out->medina_ways_n);
    out->psf_px = w->psf_px;
    return BK_OK;
}

bk_status bk_window_measure(const bk_window *window, bk_arena *arena, bk_bifurcation *out, bk_err *err)
{
    const bk_measure_input *const input = &window->input;
    work *w = BK_NEW(arena, 1, work, err);
    memset(out, 0, sizeof *out);
    if (!w)
        return err ? err->status : BK_E_LIMIT;
    w->in = input;
    w->window = window;
    w->arena = arena;
    w->psf_px = input->psf_sigma_px > 0 ? input->psf_sigma_px : DEFAULT_PSF_MM / input->mm_per_px;
    bk_edge_table_fill(&w->edge_table);
    w->quick = input->grey == BK_GREY_LINEAR;
    w->step_px = w->quick ? START_STEP_PX : AXIS_STEP_PX;
    bk_trace trace;
    bk_status status = bk_image_log(input->intensity, input->grey, arena, &w->log_image, err);
    if (status == BK_OK)
        status = bk_trace_limbs(&w->log_image, input, arena, &trace, err);
    w->edge_image = w->log_image; /* nobody needs the sharp one any more */
    if (status == BK_OK)
        status = bk_gauss_blur(&w->log_image, EDGE_BLUR_PX, arena, &w->edge_image, err);
    if (status == BK_OK)
        status = first_look(w, &trace, err);
    if (status == BK_OK)
        status = second_look(w, err);
    w->step_px = AXIS_STEP_PX;
    if (status == BK_OK)
        status = rebase(w, err);
    if (status == BK_OK)
        status = make_tubes(w, err);
    if (status == BK_OK && input->grey == BK_GREY_LINEAR)
        status = densities(w, out, err);
    return status == BK_OK ? numbers(w, out, err) : status;
}

void bk_bifurcation_warn(bk_bifurcation *b, const char *code, const char *format, ...)
{
    for (size_t i = 0; i < b->warnings_n; i++)
        if (strcmp(b->warnings[i].code, code) == 0)
            return;
    if (b->warnings_n >= BK_MEASURE_WARNINGS_MAX)
        return;
    bk_measure_warning *to = &b->warnings[b->warnings_n++];
    va_list args;
    va_start(args, format);
    bk_format(to->code, sizeof to->code, "%s", code);
    bk_format_list(to->message, sizeof to->message, format, args);
    va_end(args);
}
