/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Each limb and the whole against its published lines. */
#include <math.h>
#include <string.h>

#include "base/format.h"
#include "core/num.h"
#include "core/outcome/injury.h"
#include "core/outcome/result.h"
#include "core/patient/lines.h"

static const char *const limb_words[BK_LIMBS] = {"proximal main vessel", "distal main vessel", "side branch"};

typedef struct checks {
    bk_check *list;
    size_t n;
    const bk_evidence_set *evidence;
} checks;

static bk_check *start(checks *all, const char *row, const char *unit)
{
    bk_check *check = &all->list[all->n++];
    *check = (bk_check){.value = (double)NAN,
                        .threshold = (double)NAN,
                        .certainty_pct = (double)NAN,
                        .row = row,
                        .unit = unit};
    return check;
}

/* P(x on the wanted side of the line), x normal about the value. */
static double certainty(bk_qty q, double line, bool below)
{
    if (!bk_has(q) || isnan(q.sd))
        return (double)NAN;
    if (q.sd <= 0)
        return (below ? !bk_at_least(q.value, line) : bk_above(q.value, line)) ? 100 : 0;
    const double p = bk_normal_cdf((line - q.value) / q.sd);
    return 100 * (below ? p : 1 - p);
}

static const char *const from_words[] = {
    "", "", "", "measured in another view than the baseline: shown, not judged",
    "measured, with no baseline in a known view to compare with: shown, not judged"};

/* ---- flow ---- */

static void flow(checks *all, const bk_result_facts *f, int limb)
{
    const bk_limb_outcome *in = &f->limb[limb];
    bk_check *c = start(all, BK_EVIDENCE("result_timi"), "1");
    bk_format(c->id, sizeof c->id, "timi_%s", bk_limb_name(limb));
    bk_format(c->text, sizeof c->text, "TIMI 3 in the %s", limb_words[limb]);
    c->threshold = bk_evidence_value(all->evidence, c->row);
    if (in->timi == BK_INTEGER_ABSENT) {
        bk_format(c->why, sizeof c->why, "the grade at the end was not said");
        bk_format(c->needs, sizeof c->needs, "result.segments.%s.timi", bk_limb_name(limb));
        return;
    }
    c->value = in->timi;
    c->met = bk_at_least(c->value, c->threshold) ? BK_YES : BK_NO;
}

/* ---- residual stenosis ---- */

static bool judged(bk_residual_from from)
{
    return from == BK_RESIDUAL_ENTERED || from == BK_RESIDUAL_SAME_VIEW;
}

bk_tri bk_residual_below(const bk_limb_outcome *limb, double stent_pct, double balloon_pct)
{
    if (limb->treatment == BK_NOT_TREATED)
        return BK_YES;
    if (!judged(limb->from))
        return BK_UNKNOWN;
    const double value = limb->stenosis_pct.value;
    const bool stent = !bk_at_least(value, stent_pct), balloon = !bk_at_least(value, balloon_pct);
    if (limb->treatment == BK_TREATED_STENT)
        return stent ? BK_YES : BK_NO;
    if (limb->treatment == BK_TREATED_BALLOON)
        return balloon ? BK_YES : BK_NO;
    return stent && balloon ? BK_YES : stent || balloon ? BK_UNKNOWN : BK_NO;
}

static void residual(checks *all, const bk_result_facts *f, int limb)
{
    const bk_limb_outcome *in = &f->limb[limb];
    const bool balloon = in->treatment == BK_TREATED_BALLOON;
    bk_check *c = start(
        all, balloon ? BK_EVIDENCE("result_residual_balloon") : BK_EVIDENCE("result_residual_stent"), "%");
    bk_format(c->id, sizeof c->id, "residual_%s", bk_limb_name(limb));
    bk_format(c->text, sizeof c->text, "residual stenosis of the %s", limb_words[limb]);
    c->threshold = bk_evidence_value(all->evidence, c->row);
    c->value = bk_value(in->stenosis_pct);
    if (in->from == BK_RESIDUAL_NONE) {
        bk_format(c->why, sizeof c->why, "no final measurement, and none was entered");
        bk_format(c->needs, sizeof c->needs, "result.segments.%s.stenosis_pct", bk_limb_name(limb));
    } else if (!judged(in->from)) {
        bk_format(c->why, sizeof c->why, "%s", from_words[in->from]);
        bk_format(c->needs, sizeof c->needs, "measurements: a final one in the view of the baseline");
    } else if (in->treatment == BK_NOT_TREATED) {
        bk_format(c->why, sizeof c->why, "this limb was not treated: the line is not for it");
    } else {
        c->met = bk_residual_below(in, bk_evidence_value(all->evidence, BK_EVIDENCE("result_residual_stent")),
                                   bk_evidence_value(all->evidence, BK_EVIDENCE("result_residual_balloon")));
        c->certainty_pct = certainty(in->stenosis_pct, c->threshold, true);
    }
    if (judged(in->from) && in->treatment == BK_TREATMENT_NOT_SAID && c->met == BK_UNKNOWN) {
        bk_format(c->why, sizeof c->why, "between the line for balloons and that for a stent: which was it?");
        bk_format(c->needs, sizeof c->needs, "result.segments.%s.treatment", bk_limb_name(limb));
    }
}

static void ostium(checks *all, const bk_result_facts *f)
{
    const bk_limb_outcome *in = &f->limb[BK_SIDE];
    bk_check *c = start(all, BK_EVIDENCE("result_side_stop"), "%");
    bk_format(c->id, sizeof c->id, "ostium_side");
    bk_format(c->text, sizeof c->text, "stenosis left at the ostium of the side branch");
    c->threshold = bk_evidence_value(all->evidence, c->row);
    c->value = bk_value(in->ostium_pct);
    if (in->ostium_from == BK_RESIDUAL_NONE) {
        bk_format(c->why, sizeof c->why, "no final measurement of the ostium, and none was entered");
        bk_format(c->needs, sizeof c->needs, "result.segments.side.ostium_stenosis_pct");
    } else if (!judged(in->ostium_from)) {
        bk_format(c->why, sizeof c->why, "%s", from_words[in->ostium_from]);
        bk_format(c->needs, sizeof c->needs, "measurements: a final one in the view of the baseline");
    } else {
        c->met = bk_at_least(c->value, c->threshold) ? BK_NO : BK_YES;
        c->certainty_pct = certainty(in->ostium_pct, c->threshold, true);
    }
}

/* ---- imaging ---- */

static void expansion(checks *all, const bk_result_facts *f, int limb)
{
    const bk_limb_outcome *in = &f->limb[limb];
    if (in->treatment == BK_NOT_TREATED || in->treatment == BK_TREATED_BALLOON)
        return;
    bk_check *c = start(all, BK_EVIDENCE("imaging_expansion"), "%");
    bk_format(c->id, sizeof c->id, "expansion_%s", bk_limb_name(limb));
    bk_format(c->text, sizeof c->text, "stent area over the reference of the %s", limb_words[limb]);
    c->threshold = bk_evidence_value(all->evidence, c->row);
    if (!bk_has(in->msa_mm2)) {
        bk_format(c->why, sizeof c->why, "no imaging of the stent in this limb");
        bk_format(c->needs, sizeof c->needs, "imaging.N.msa_mm2 (%s)", bk_limb_name(limb));
        return;
    }
    if (!bk_has(in->reference_mm2) || !(in->reference_mm2.value > 0)) {
        bk_format(c->why, sizeof c->why,
                  "no reference area of this limb by the same mode; another side's is not used");
        bk_format(c->needs, sizeof c->needs, "imaging.N.reference_area_mm2 (%s)", bk_limb_name(limb));
        return;
    }
    const double a = in->msa_mm2.value, r = in->reference_mm2.value;
    const bk_qty pct =
        bk_qty_of(100 * a / r, 100 * a / r * hypot(in->msa_mm2.sd / a, in->reference_mm2.sd / r), BK_DERIVED);
    c->value = pct.value;
    c->met = bk_above(pct.value, c->threshold) ? BK_YES : BK_NO;
    c->certainty_pct = a > 0 ? certainty(pct, c->threshold, false) : (double)NAN;
}

static const char *area_row(const bk_result_facts *f, int limb)
{
    static const char *const left_main[BK_LIMBS] = {BK_EVIDENCE("imaging_lm_left_main"),
                                                    BK_EVIDENCE("imaging_lm_lad"),
                                                    BK_EVIDENCE("imaging_lm_circumflex")};
    if (f->site == BK_LEFT_MAIN)
        return left_main[limb];
    return f->limb[limb].mode == 1 ? BK_EVIDENCE("imaging_area_oct") : BK_EVIDENCE("imaging_area_ivus");
}

/* The absolute lines are for one mode each, and another outside the left main: without mode or site none is
 * chosen. */
static void area(checks *all, const bk_result_facts *f, int limb)
{
    const bk_limb_outcome *in = &f->limb[limb];
    if (!bk_has(in->msa_mm2))
        return;
    bk_check *c = start(all, area_row(f, limb), "mm2");
    bk_format(c->id, sizeof c->id, "area_%s", bk_limb_name(limb));
    bk_format(c->text, sizeof c->text, "smallest stent area of the %s", limb_words[limb]);
    c->value = in->msa_mm2.value;
    if (f->site == BK_SITE_NOT_SAID || in->mode == 0 || (f->site == BK_LEFT_MAIN && in->mode == 1)) {
        bk_format(c->why, sizeof c->why, "%s",
                  f->site == BK_SITE_NOT_SAID
                      ? "the lines differ between left main and elsewhere: the site was not said"
                  : in->mode == 0 ? "the lines differ between OCT and IVUS: the mode was not said"
                                  : "the lines of the left main are for IVUS, this is OCT");
        if (f->site == BK_SITE_NOT_SAID || in->mode == 0)
            bk_format(c->needs, sizeof c->needs, "%s",
                      f->site == BK_SITE_NOT_SAID ? "anatomy.site" : "imaging.N.mode");
        return;
    }
    c->threshold = bk_evidence_value(all->evidence, c->row);
    c->met = bk_above(c->value, c->threshold) ? BK_YES : BK_NO;
    c->certainty_pct = certainty(in->msa_mm2, c->threshold, false);
}

static void edge(checks *all, const bk_result_facts *f, int limb)
{
    const bk_limb_outcome *in = &f->limb[limb];
    const struct {
        bk_qty q;
        const char *id, *text, *unit, *row;
    } of[] = {{in->edge_dissection_deg, "edge_dissection", "arc of dissection at the stent's edge,", "deg",
               BK_EVIDENCE("imaging_edge_arc")},
              {in->edge_plaque_pct, "edge_plaque", "plaque burden at the stent's edge,", "%",
               BK_EVIDENCE("imaging_edge_burden")}};
    for (size_t i = 0; i < 2; i++) {
        if (!bk_has(of[i].q))
            continue;
        bk_check *c = start(all, of[i].row, of[i].unit);
        bk_format(c->id, sizeof c->id, "%s_%s", of[i].id, bk_limb_name(limb));
        bk_format(c->text, sizeof c->text, "%s %s", of[i].text, limb_words[limb]);
        c->value = of[i].q.value;
        c->threshold = bk_evidence_value(all->evidence, c->row);
        c->met = (i == 0 ? bk_above(c->value, c->threshold) : bk_at_least(c->value, c->threshold)) ? BK_NO
                                                                                                   : BK_YES;
        c->certainty_pct = certainty(of[i].q, c->threshold, true);
    }
}

/* ---- the whole ---- */

static void dissection(checks *all, const bk_result_facts *f)
{
    static const char *const types[] = {NULL, "none", "A", "B", "C", "D", "E", "F"};
    bk_check *c = start(all, BK_EVIDENCE("result_dissection"), "none");
    bk_format(c->id, sizeof c->id, "dissection");
    bk_format(c->text, sizeof c->text, "no dissection of type B or worse is left");
    c->value_word = types[f->dissection];
    c->threshold_word = "below B";
    if (f->dissection == BK_DISSECTION_NOT_SAID) {
        bk_format(c->why, sizeof c->why,
                  "the grade was not said; one inside a stent is not seen by angiography alone");
        bk_format(c->needs, sizeof c->needs, "result.dissection_grade");
        return;
    }
    c->met = f->dissection >= BK_DISSECTION_B ? BK_NO : BK_YES;
}

static void wires(checks *all, const bk_result_facts *f)
{
    bk_check *c = start(all, BK_EVIDENCE("result_wires"), "none");
    bk_format(c->id, sizeof c->id, "wires_out");
    bk_format(c->text, sizeof c->text, "every wire, jailed ones too, came out whole");
    c->met = f->wires_out;
    c->value_word = f->wires_out == BK_UNKNOWN ? NULL : bk_tri_name(f->wires_out);
    c->threshold_word = "yes";
    if (f->wires_out == BK_UNKNOWN) {
        bk_format(c->why, sizeof c->why, "it was not said whether the wires were looked at");
        bk_format(c->needs, sizeof c->needs, "result.wires_out");
    }
}

size_t bk_result_checks(const bk_result_facts *facts, const bk_evidence_set *evidence,
                        bk_check out[BK_CHECKS_MAX])
{
    checks all = {out, 0, evidence};
    for (int limb = 0; limb < BK_LIMBS; limb++)
        flow(&all, facts, limb);
    for (int limb = 0; limb < BK_LIMBS; limb++)
        residual(&all, facts, limb);
    ostium(&all, facts);
    for (int limb = 0; limb < BK_LIMBS; limb++) {
        expansion(&all, facts, limb);
        area(&all, facts, limb);
        edge(&all, facts, limb);
    }
    dissection(&all, facts);
    wires(&all, facts);
    return all.n;
}
