/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/looks.h"

#include <math.h>

#include "core/anatomy/corrections.h"
#include "core/anatomy/looks_inside.h"
#include "core/image/gauss.h"
#include "core/image/wire.h"

#define AXIS_STEP_PX 0.5
#define LIMB_MIN_PX 12.0   /* beyond the core */
#define OUTSIDE_CLEAR_PX 6.0 /* between an edge and another limb: half of what a scan line sees of the outside */
#define EDGE_CLEAR_PX 3.0  /* between an edge and another limb, where edges are all there is: its penumbra bends them */
#define FIT_LEAST_MM 3.6    /* of a stump beyond its ostium */
#define FLUSH_AXIS_MM 12.0  /* of the way to the click that is kept of a limb without a stump */
#define FLUSH_TUBE_PX 0.5   /* a thread that shapes neither the core nor the others' pixels */

/* A limb without a stump: no lumen, only the way to the click. */
static bk_status make_thread(bk_looks *w, int i, bk_err *err)
{
    const size_t first = w->first[i];
    const bk_curve part = {w->axis[i].points + first, w->axis[i].n - first, w->axis[i].step_px};
    bk_lumen_limb *limb = &w->limb[i];
    *limb = (bk_lumen_limb){.n = part.n, .step_px = part.step_px, .first_px = (double)first * part.step_px, .axis = part.points};
    limb->normal = BK_NEW(w->arena, part.n, bk_pt_px, err);
    limb->diameter_px = BK_NEW(w->arena, part.n, double, err);
    limb->sd_px = BK_NEW(w->arena, part.n, double, err);
    if (!limb->normal || !limb->diameter_px || !limb->sd_px)
        return err ? err->status : BK_E_LIMIT;
    bk_curve_normals(&part, limb->normal);
    for (size_t k = 0; k < part.n; k++)
        limb->diameter_px[k] = FLUSH_TUBE_PX;
    return BK_OK;
}

static bk_status follow_edges(bk_looks *w, int i, bk_err *err)
{
    if (w->flush[i])
        return make_thread(w, i, err);
    const double blur = sqrt(w->psf_px * w->psf_px + BK_LOOKS_BLUR_PX * BK_LOOKS_BLUR_PX);
    const size_t first = w->first[i];
    const bk_curve part = {w->axis[i].points + first, w->axis[i].n - first, w->axis[i].step_px};
    const bk_edge_options options = {w->in->mm_per_px, blur, &w->edge_table, w->clear[i], w->outside[i], w->quick};
    bk_status status = bk_edges_follow(&w->edge_image, &part, w->radius_px[i] + first, &options, w->arena, &w->limb[i], err);
    if (status != BK_OK)
        return bk_fail_in(err, bk_limb_name(i));
    w->limb[i].first_px = (double)first * w->axis[i].step_px;
    return BK_OK;
}

/* Radii of the fitted limb at every sample of an axis that continues it to the branch point. */
static bk_status spread_radii(bk_looks *w, int i, double lead_px, bk_err *err)
{
    w->radius_px[i] = BK_NEW(w->arena, w->axis[i].n, double, err);
    if (!w->radius_px[i])
        return err ? err->status : BK_E_LIMIT;
    const bk_lumen_limb *limb = &w->limb[i];
    const double inside_px = 0.5 * bk_axis_start_diameter(limb, w->alone[i], w->in->mm_per_px);
    for (size_t k = 0; k < w->axis[i].n; k++) {
        const double at = ((double)k * w->axis[i].step_px - lead_px) / limb->step_px;
        const size_t j = at > 0 ? (size_t)at : 0;
        w->radius_px[i][k] = j <= w->alone[i] ? inside_px : 0.5 * limb->diameter_px[j < limb->n ? j : limb->n - 1];
    }
    return BK_OK;
}

/* Branch point from the present axes; then every axis begins there. */
static bk_status rebase(bk_looks *w, bk_err *err)
{
    bk_curve present[BK_LIMBS];
    for (int i = 0; i < BK_LIMBS; i++)
        present[i] = (bk_curve){w->limb[i].axis, w->limb[i].n, w->limb[i].step_px};
    bk_status status = bk_branch_find(w->limb, w->alone, w->in->mm_per_px, w->arena, &w->branch, err);
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++) {
        const double beyond_px = w->branch.start[i].to_branch_px;
        if (beyond_px > ((double)present[i].n - (double)w->alone[i] - 4) * present[i].step_px)
            return bk_fail(err, BK_E_NOTHING, "the %s limb turns back to the branching, one that leaves it was expected", bk_limb_name(i));
        status = bk_branch_axis(&w->branch, i, &present[i], w->alone[i], w->step_px, w->arena, &w->axis[i], err);
        /* arc length, on the new axis, of the limb's sample 0 */
        const double lead = -w->branch.start[i].to_branch_px - (double)w->alone[i] * w->limb[i].step_px;
        if (status == BK_OK)
            status = spread_radii(w, i, lead, err);
    }
    return status;
}

static bk_status make_tubes(bk_looks *w, bk_err *err)
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

/* Of an occluded limb the part up to the stop, or some of the way to the click where there is no stump. */
static size_t kept_samples(const bk_looks *w, int i)
{
    const size_t n = w->axis[i].n, way = (size_t)(FLUSH_AXIS_MM / w->in->mm_per_px / w->axis[i].step_px);
    if (!w->patency[i].occluded)
        return n;
    return w->flush[i] ? (way < n ? way : n) : w->patency[i].stop;
}

/* First look: edges from a little beyond where the paths part. */
static bk_status first_look(bk_looks *w, const bk_trace *trace, bk_err *err)
{
    bk_status status = BK_OK;
    const double parent_px = 2 * trace->radius_px[BK_PROXIMAL][trace->limb[BK_PROXIMAL].n / 2];
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++) {
        w->axis[i] = trace->limb[i];
        w->axis[i].n = kept_samples(w, i);
        w->radius_px[i] = trace->radius_px[i];
        w->first[i] = 0;
        const size_t clear = (size_t)(1.1 * parent_px / w->axis[i].step_px);
        const size_t least = (size_t)(LIMB_MIN_PX / w->axis[i].step_px);
        const size_t most = w->axis[i].n > least ? w->axis[i].n - least : 0;
        w->alone[i] = w->clear[i] = clear < most ? clear : most;
        w->outside[i] = w->axis[i].n; /* what lies beside it is not known yet */
        status = follow_edges(w, i, err);
    }
    return status;
}

/* First sample beyond the ostium that is margin_px clear of the other limbs; at most `most`. */
static size_t stands_clear(const bk_looks *w, int i, double margin_px, size_t most)
{
    const size_t alone = bk_tube_alone_from(w->tube, i, margin_px);
    const size_t beyond = alone > w->first[i] ? alone - w->first[i] : 0;
    return beyond < most ? beyond : most;
}

/* Second look: the branch point and the core are known, so each limb is followed from its ostium. */
static bk_status second_look(bk_looks *w, bk_err *err)
{
    bk_status status = rebase(w, err);
    if (status == BK_OK)
        status = make_tubes(w, err);
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++) {
        const size_t first = (size_t)(w->core.ostium_px[i] / w->axis[i].step_px);
        const size_t least = (size_t)(LIMB_MIN_PX / w->axis[i].step_px);
        const double beyond_mm = ((double)w->axis[i].n - (double)first) * w->axis[i].step_px * w->in->mm_per_px;
        if (w->patency[i].occluded && !w->flush[i] && (w->axis[i].n < first + least || beyond_mm < FIT_LEAST_MM))
            w->flush[i] = w->again = true;
        if (w->axis[i].n < first + least)
            return bk_fail(err, BK_E_NOTHING,
                           "the %s limb ends %.0f px from the branch point, inside or just outside the core of %.0f px",
                           bk_limb_name(i), (double)w->axis[i].n * w->axis[i].step_px, w->core.radius_px);
        const size_t most = w->axis[i].n - first - least * 2 / 3;
        w->first[i] = first;
        w->alone[i] = stands_clear(w, i, 1.0, most);
        w->clear[i] = w->quick ? w->alone[i] : stands_clear(w, i, EDGE_CLEAR_PX, most);
        w->outside[i] = w->quick ? w->axis[i].n : stands_clear(w, i, OUTSIDE_CLEAR_PX, w->axis[i].n);
        if (!w->again)
            status = follow_edges(w, i, err);
    }
    return status;
}

static bk_status look(bk_looks *w, const bk_trace *trace, bk_err *err)
{
    w->again = false;
    bk_status status = first_look(w, trace, err);
    if (status == BK_OK)
        status = second_look(w, err);
    return status;
}

/* A stump that turns out to end in the core, or that cannot be followed, leaves its limb without one: everything is
   looked at anew. */
static bk_status look_twice(bk_looks *w, const bk_trace *trace, bk_err *err)
{
    bk_err first = {0};
    bk_status status = look(w, trace, &first);
    for (int i = 0; status == BK_E_NOTHING && i < BK_LIMBS; i++)
        if (w->patency[i].occluded && !w->flush[i])
            w->flush[i] = w->again = true;
    if (w->again) {
        first = (bk_err){0};
        status = look(w, trace, &first);
    }
    return status == BK_OK ? BK_OK : bk_fail(err, status, "%s", first.message);
}

static bk_status draw_edges(bk_looks *w, bool *any, bk_err *err)
{
    bk_status status = BK_OK;
    *any = false;
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++) {
        status = bk_corrections_draw(w->in->corrections, i, &w->limb[i], w->in->evidence, w->arena, &w->drawn[i], err);
        *any = *any || w->drawn[i];
    }
    return status;
}

static bk_status settle(bk_looks *w, bk_err *err)
{
    const bk_status status = rebase(w, err);
    return status == BK_OK ? make_tubes(w, err) : status;
}

/* Where no vessel is seen on a way that was led through a stump, the way as it came is taken. */
static bk_status trace_and_look(bk_looks *w, bk_trace *trace, bk_err *err)
{
    bk_err led = {0};
    bk_status status = bk_looks_trace(w, true, trace, &led);
    if (status == BK_E_NOTHING) {
        *trace = (bk_trace){0};
        status = bk_looks_trace(w, false, trace, err);
    } else if (status != BK_OK) {
        return bk_fail(err, status, "%s", led.message);
    }
    w->edge_image = w->log_image; /* nobody needs the sharp one any more */
    if (status == BK_OK)
        status = bk_gauss_blur(&w->log_image, BK_LOOKS_BLUR_PX, w->arena, &w->edge_image, err);
    if (status != BK_OK)
        return status;
    bk_looks_find_stumps(w, trace);
    return look_twice(w, trace, err);
}

/* Limbs by density; where that fails, by edges that are then looked for with care. */
static bk_status fit(bk_looks *w, bk_bifurcation *out, bk_err *err)
{
    bk_status status = w->quick ? bk_looks_fit_density(w, out, err) : BK_OK;
    if (status != BK_OK || !w->quick || out->by_density)
        return status;
    w->quick = false;
    status = second_look(w, err);
    return status == BK_OK ? settle(w, err) : status;
}

bk_status bk_looks_take(bk_looks *w, bk_bifurcation *out, bk_err *err)
{
    bk_trace trace = {0};
    bool any = false;
    w->quick = w->in->grey == BK_GREY_LINEAR;
    w->step_px = w->quick ? 2 * AXIS_STEP_PX : AXIS_STEP_PX;
    bk_status status = bk_looks_remove_wires(w, err);
    if (status == BK_OK)
        status = trace_and_look(w, &trace, err);
    w->step_px = AXIS_STEP_PX;
    if (status == BK_OK)
        status = settle(w, err);
    if (status == BK_OK)
        status = fit(w, out, err);
    for (int i = 0; status == BK_OK && !out->by_density && i < BK_LIMBS; i++)
        if (bk_looks_wires_in(w, i) > 0 && !w->flush[i])
            status = bk_wire_widen(&w->limb[i], bk_evidence_value(w->in->evidence, BK_EVIDENCE("wire_diameter")), w->in->mm_per_px, w->arena, err);
    if (status == BK_OK)
        status = draw_edges(w, &any, err);
    if (status == BK_OK && (out->by_density || any))
        status = settle(w, err);
    bk_looks_warn(w, &trace, out);
    return status;
}
