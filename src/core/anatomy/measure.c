/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The order of a measurement: trace, find edges, find the branch point, fit, then the numbers. */
#include <math.h>
#include <stdarg.h>
#include <string.h>

#include "base/format.h"
#include "core/anatomy/angles.h"
#include "core/anatomy/bifurcation.h"
#include "core/anatomy/law_check.h"
#include "core/anatomy/looks.h"
#include "core/anatomy/medina.h"
#include "core/anatomy/mouth.h"
#include "core/anatomy/segment.h"

static const char *const third_branch[BK_LIMBS] = {"third_branch_proximal", "third_branch_distal", "third_branch_side"};

#define FOLDED_DEG 60 /* between proximal and distal limb: less is a path that went astray rather than a main vessel (choice of this project) */
#define UNSURE_MM 0.5     /* SD of the branch point: more leaves its limbs' beginnings open (choice of this project) */
#define SHARED_MM 0.6       /* of vessel over which a fit's scatter about the reference is shared; set on phantoms */
#define SHARED_EDGES_MM 1.0 /* the same of edges */
#define CROWDED_DIAMETERS 2.0 /* of vessel between two branchings, by which a limb has a calibre of its own (choice of this project) */
#define CLICK_SD_PX 0.5    /* where a click ends the measured range */
#define DEFAULT_PSF_MM 0.13 /* Gaussian SD of a room's blur at the patient, when the file does not tell */

/* Arc length of the limb's sample 0 from the branch point. */
static double origin_px(const bk_looks *w, int i)
{
    return -w->branch.start[i].to_branch_px - (double)w->alone[i] * w->limb[i].step_px;
}

/* Where contrast stops in a limb without a measured stump: the place of its axis nearest to the traced stop. */
static double stop_mm(const bk_looks *w, int i)
{
    const bk_patency *p = &w->patency[i];
    const bk_pt_px at = p->way[p->stop];
    size_t nearest = 0;
    for (size_t k = 1; k < w->axis[i].n; k++)
        if (bk_px_distance(w->axis[i].points[k], at) < bk_px_distance(w->axis[i].points[nearest], at))
            nearest = k;
    return fmax((double)nearest * w->axis[i].step_px, w->core.ostium_px[i]) * w->in->mm_per_px;
}

/* The gap of an occluded limb, along the way to the click. */
static void note_gap(const bk_looks *w, int i, bk_segment *out)
{
    const bk_patency *p = &w->patency[i];
    out->seen_least_mm = p->seen_least_mm;
    if (p->refills)
        out->refill_mm = out->mld_position_mm + (double)(p->refill - p->stop) * p->step_px * w->in->mm_per_px;
    const double end_sd_mm = bk_evidence_value(w->in->evidence, BK_EVIDENCE("occlusion_end_sd"));
    if (p->refills && out->n > 0)
        out->lesion_length_mm = bk_qty_of(out->refill_mm - out->lesion_from_mm, end_sd_mm * sqrt(2), BK_PROJECTED);
    if (p->refills)
        out->lesion_to_mm = out->refill_mm;
}

static double mean_sd_px(const bk_spread_px *s)
{
    return sqrt(0.5 * (s->xx + s->yy));
}

static bk_status numbers_of_limb(bk_looks *w, int i, bk_bifurcation *out, bk_reference *line, bk_err *err)
{
    bk_segment *segment = &out->segment[i];
    bk_hidden_mld hidden;
    if (w->flush[i]) {
        bk_segment_absent(w->core.ostium_px[i] * w->in->mm_per_px, stop_mm(w, i), segment);
        note_gap(w, i, segment);
        return BK_OK;
    }
    const bk_segment_input input = {&w->limb[i],      origin_px(w, i), w->core.ostium_px[i],     w->in->mm_per_px, i,
                                    w->in->corrections, w->drawn[i],     w->patency[i].occluded, out->by_density ? SHARED_MM : SHARED_EDGES_MM};
    bk_err reason = {0};
    const bk_status status = bk_segment_measure(&input, w->arena, segment, line, &hidden, &reason);
    if (status == BK_E_NOTHING && w->patency[i].occluded) { /* the core reaches over the stump */
        w->flush[i] = true;
        return numbers_of_limb(w, i, out, line, err);
    }
    if (status == BK_E_NOTHING)
        bk_fail_in(&reason, bk_limb_name(i));
    if (status != BK_OK)
        return bk_fail(err, status, "%s", reason.message);
    segment->length_mm.sd = hypot(mean_sd_px(&w->branch.spread), CLICK_SD_PX) * w->in->mm_per_px;
    if (bk_has(hidden.mld_mm))
        bk_bifurcation_warn(out, "mld_excluded", "the smallest lumen of the %s limb, %.2f mm at %.1f mm, lies in an excluded stretch",
                            bk_limb_name(i), hidden.mld_mm.value, hidden.position_mm);
    if (segment->occluded)
        note_gap(w, i, segment);
    return BK_OK;
}

/* A third branch changes the calibre of its limb: that is said, the person decides where the limb ends. */
static bk_status note_third_branch(bk_looks *w, int i, bk_bifurcation *out, bk_err *err)
{
    bk_mouth mouth;
    bool found;
    if (w->flush[i] || w->patency[i].occluded)
        return BK_OK;
    const bk_status status = bk_mouth_find(&w->log_image, &w->limb[i], w->outside[i], w->in->mm_per_px, w->arena, &found, &mouth, err);
    if (status != BK_OK || !found)
        return status;
    bk_segment *const segment = &out->segment[i];
    const double mm = w->in->mm_per_px, step = w->limb[i].step_px;
    const double at = (origin_px(w, i) + 0.5 * (double)(mouth.from + mouth.to) * step) * mm;
    const double before = (origin_px(w, i) + (double)mouth.from * step) * mm - segment->ostium_mm;
    if (before < CROWDED_DIAMETERS * segment->reference_mm.value)
        segment->healthy_mm = 0; /* two branchings share that stretch, and beyond it is another calibre: the limb has no reference of its own */
    bk_bifurcation_warn(out, third_branch[i], "a branch leaves the %s limb about %.0f mm from the branch point: its reference mixes the calibres before and after; a click "
                        "short of it measures one", bk_limb_name(i), at);
    return BK_OK;
}

static bk_status numbers_of_limbs(bk_looks *w, bk_bifurcation *out, bk_reference line[BK_LIMBS], bk_err *err)
{
    bk_status status = BK_OK;
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++)
        status = numbers_of_limb(w, i, out, &line[i], err);
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++)
        status = note_third_branch(w, i, out, err);
    return status;
}

/* The core against the core that the healthy references would make on the same axes. */
static bk_status numbers_of_core(bk_looks *w, bk_bifurcation *out, const bk_reference line[BK_LIMBS], bk_err *err)
{
    const double mm = w->in->mm_per_px;
    bk_tube healthy[BK_LIMBS];
    bk_core ideal;
    for (int i = 0; i < BK_LIMBS; i++) {
        double *diameter = BK_NEW(w->arena, w->axis[i].n, double, err);
        if (!diameter)
            return err ? err->status : BK_E_LIMIT;
        const double from = out->segment[i].n > 0 ? out->segment[i].position_mm[0] : 0;
        for (size_t k = 0; k < w->axis[i].n; k++) {
            const double s = (double)k * w->axis[i].step_px * mm - from;
            diameter[k] = w->flush[i] ? w->tube[i].diameter_px[k] : bk_reference_at(&line[i], fmax(s, 0)) / mm;
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

static void numbers_of_branching(const bk_looks *w, bk_bifurcation *out)
{
    const double chord = BK_ANGLE_CHORD_MM / w->in->mm_per_px;
    const bk_spread_px *spread = &w->branch.spread;
    const bk_curve *axis = w->axis;
    const bk_pt_px o = w->branch.point;
    out->branch_point = o;
    out->branch_point_sd = (bk_pt_px){sqrt(spread->xx), sqrt(spread->yy)};
    out->carina = w->core.carina;
    out->distal_side_deg = bk_projected_angle(&axis[BK_DISTAL], &axis[BK_SIDE], o, chord, spread);
    out->proximal_side_deg = bk_projected_angle(&axis[BK_PROXIMAL], &axis[BK_SIDE], o, chord, spread);
    out->proximal_distal_deg = bk_projected_angle(&axis[BK_PROXIMAL], &axis[BK_DISTAL], o, chord, spread);
    for (int i = 0; i < BK_LIMBS; i++)
        if ((double)axis[i].n * axis[i].step_px < chord)
            bk_bifurcation_warn(out, "short_chord", "the %s limb is shorter than the %.0f mm over which angles are taken",
                                bk_limb_name(i), BK_ANGLE_CHORD_MM);
    const double unsure_mm = fmax(out->branch_point_sd.x, out->branch_point_sd.y) * w->in->mm_per_px;
    if (unsure_mm > UNSURE_MM)
        bk_bifurcation_warn(out, "branch_point_unsure", "the branch point is known to %.1f mm only: perhaps vessels lie over one another there; another "
                            "frame or a way-point helps", unsure_mm);
    if (out->proximal_distal_deg.value < FOLDED_DEG)
        bk_bifurcation_warn(out, "branch_point_unsure",
                            "the proximal and the distal limb leave the branch point to one side, %.0f degrees apart: perhaps vessels lie "
                            "over one another there; another frame or a way-point helps", out->proximal_distal_deg.value);
}

static bk_status numbers(bk_looks *w, bk_bifurcation *out, bk_err *err)
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
    bk_looks *w = BK_NEW(arena, 1, bk_looks, err);
    memset(out, 0, sizeof *out);
    if (!w)
        return err ? err->status : BK_E_LIMIT;
    w->in = input;
    w->window = window;
    w->arena = arena;
    w->psf_px = input->psf_sigma_px > 0 ? input->psf_sigma_px : DEFAULT_PSF_MM / input->mm_per_px;
    bk_edge_table_fill(&w->edge_table);
    bk_status status = bk_image_log(input->intensity, input->grey, arena, &w->log_image, err);
    if (status == BK_OK)
        status = bk_looks_take(w, out, err);
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
