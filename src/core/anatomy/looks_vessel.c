/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is in the picture before limbs are looked at: wires, ways, and which limbs contrast fills. */
#include <math.h>

#include "core/anatomy/corrections.h"
#include "core/anatomy/looks_inside.h"
#include "core/image/wire.h"

#define FILLED_LEAST_MM 5.0 /* contrast in one daughter, without which no lumen joins the clicks */
#define STUMP_LEAST_MM 4.5  /* of an occluded limb beyond the parent's wall: less cannot be fitted */

int bk_looks_wires_in(const bk_looks *w, int i)
{
    const bool *wire = w->in->wire;
    const int through = wire[BK_DISTAL] + wire[BK_SIDE];
    return i == BK_PROXIMAL && through > wire[i] ? through : wire[i];
}

static bk_status no_lumen(int limb, bk_err *err)
{
    return bk_fail(err, BK_E_NOTHING, "no lumen joins the clicks: the way to the %s click is hardly darker than its surroundings",
                   bk_limb_name(limb));
}

static double filled_mm(const bk_looks *w, const bk_trace *trace, int i)
{
    const size_t n = w->patency[i].occluded ? w->patency[i].stop : trace->limb[i].n;
    return (double)n * trace->limb[i].step_px * w->in->mm_per_px;
}

/* A vessel can be seen when the proximal limb is filled, and one daughter for some way. */
static bk_status see_vessel(bk_looks *w, const bk_trace *trace, bk_err *err)
{
    bk_patency *proximal = &w->patency[BK_PROXIMAL];
    if (proximal->occluded && proximal->refill >= trace->limb[BK_PROXIMAL].n)
        return no_lumen(BK_PROXIMAL, err);
    if (proximal->occluded) { /* contrast came through from there */
        proximal->occluded = false;
        proximal->doubtful = true;
        proximal->doubt = proximal->stop;
    }
    for (int i = 0; i < BK_LIMBS; i++) {
        bk_patency *p = &w->patency[i];
        if (bk_corrections_draws(w->in->corrections, i))
            p->occluded = false; /* who draws an edge sees a lumen */
        if (bk_looks_wires_in(w, i) > 0 && p->occluded && p->refill < trace->limb[i].n) { /* a throat that the wire fills shows nothing beside it */
            p->occluded = false;
            p->doubtful = true;
            p->doubt = p->stop;
        }
        if (!w->patency[i].occluded && trace->contrast[i] < BK_TRACE_NO_LUMEN) {
            if (i == BK_PROXIMAL || bk_corrections_draws(w->in->corrections, i))
                return no_lumen(i, err);
            if (w->patency[i].dim < trace->limb[i].n) /* a long throat is as faint, but shows contrast all the way */
                bk_patency_close(&w->patency[i]);
        }
    }
    const double distal = filled_mm(w, trace, BK_DISTAL), side = filled_mm(w, trace, BK_SIDE);
    return fmax(distal, side) >= FILLED_LEAST_MM ? BK_OK : no_lumen(distal > side ? BK_SIDE : BK_DISTAL, err);
}

void bk_looks_find_stumps(bk_looks *w, const bk_trace *trace)
{
    const double mm = w->in->mm_per_px;
    const double parent_mm = 2 * trace->radius_px[BK_PROXIMAL][trace->limb[BK_PROXIMAL].n / 2] * mm;
    for (int i = 0; i < BK_LIMBS; i++)
        w->flush[i] = w->patency[i].occluded && filled_mm(w, trace, i) < 0.55 * parent_mm + STUMP_LEAST_MM;
}

void bk_looks_warn(const bk_looks *w, const bk_trace *trace, bk_bifurcation *out)
{
    for (int i = 0; i < BK_LIMBS; i++) {
        if (trace->via_off[i])
            bk_bifurcation_warn(out, "way_point_off_vessel", "%d way-point(s) of the %s limb lie on no vessel", trace->via_off[i],
                                bk_limb_name(i));
        if (w->patency[i].doubtful)
            bk_bifurcation_warn(out, "near_occlusion", "the %s limb shows hardly any contrast %.1f mm beyond the parting: it cannot be told from an occlusion",
                                bk_limb_name(i), (double)w->patency[i].doubt * trace->limb[i].step_px * w->in->mm_per_px);
        if (w->patency[i].occluded)
            bk_bifurcation_warn(out, "occlusion", "no contrast reaches the %s click: look whether the overlay ends where the vessel does",
                                bk_limb_name(i));
        if (w->flush[i])
            bk_bifurcation_warn(out, "branch_point_unsure", "the %s limb is occluded close to its ostium: branch point and angles follow the way to its click, a way-point helps",
                                bk_limb_name(i));
    }
}

bk_status bk_looks_trace(bk_looks *w, bool lead, bk_trace *trace, bk_err *err)
{
    bk_status status = bk_trace_limbs(&w->log_image, w->in, lead, w->arena, trace, err);
    if (status == BK_OK)
        status = bk_patency_find(&w->log_image, trace, w->in->mm_per_px, w->arena, w->patency, err);
    return status == BK_OK ? see_vessel(w, trace, err) : status;
}

/* Wires are dark, and thin where the lumen is wide: without them the picture shows the lumen's edges. */
bk_status bk_looks_remove_wires(bk_looks *w, bk_err *err)
{
    bk_trace trace = {0};
    if (bk_looks_wires_in(w, BK_PROXIMAL) == 0)
        return BK_OK;
    const double wire_mm = bk_evidence_value(w->in->evidence, BK_EVIDENCE("wire_diameter"));
    bk_status status = bk_trace_limbs(&w->log_image, w->in, false, w->arena, &trace, err);
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++)
        for (int k = 0; status == BK_OK && k < bk_looks_wires_in(w, i); k++)
            status = bk_wire_remove(&w->log_image, &trace.limb[i], wire_mm, w->in->mm_per_px, w->psf_px, w->arena, err);
    return status;
}
