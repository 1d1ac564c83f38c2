/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Procedural success by each named definition: a list of parts joined by "and", each yes, no or unknown. */
#include <math.h>
#include <string.h>

#include "base/format.h"
#include "core/outcome/injury.h"
#include "core/outcome/result.h"

const char *const bk_success_ids[BK_SUCCESSES] = {"bif_arc_2022", "acc_aha_scai_2011", "acc_aha_2005"};
const char *const bk_success_names[BK_SUCCESSES] = {"Bif-ARC (2022)", "ACCF/AHA/SCAI guideline (2011)",
                                                    "ACC/AHA guideline (2001, 2005)"};

typedef struct part {
    bk_tri met;
    const char *words; /* what it is called when it fails or is not known */
    const char *needs;
} part;

#define PARTS_MAX 16

static void add(char *out, size_t room, const char *word)
{
    const size_t n = strlen(out);
    bk_format(out + n, room - n, "%s%s", n ? ", " : "", word);
}

static bk_success join(const part *parts, size_t n, const char *row)
{
    bk_success out = {.met = BK_YES, .row = row};
    char failed[160] = "", open[220] = "";
    size_t needs = 0;
    for (size_t i = 0; i < n; i++) {
        if (parts[i].met == BK_NO)
            add(failed, sizeof failed, parts[i].words);
        if (parts[i].met != BK_UNKNOWN)
            continue;
        add(open, sizeof open, parts[i].words);
        if (needs + 1 < BK_SUCCESS_NEEDS_MAX)
            out.needs[needs++] = parts[i].needs;
    }
    if (failed[0]) {
        out.met = BK_NO;
        out.needs[0] = NULL; // nothing that is still open would change it
        bk_format(out.why, sizeof out.why, "not met: %s", failed);
    } else if (open[0]) {
        out.met = BK_UNKNOWN;
        bk_format(out.why, sizeof out.why, "nothing known against it; not known: %s", open);
    } else {
        bk_format(out.why, sizeof out.why, "every part is met");
    }
    return out;
}

static bk_tri opposite(bk_tri tri)
{
    return tri == BK_YES ? BK_NO : tri == BK_NO ? BK_YES : BK_UNKNOWN;
}

static bk_tri full_flow(const bk_limb_outcome *limb)
{
    return limb->timi == BK_INTEGER_ABSENT ? BK_UNKNOWN : limb->timi == 3 ? BK_YES : BK_NO;
}

static size_t residuals(const bk_result_facts *f, double stent, double balloon, part out[])
{
    static const char *const words[BK_LIMBS] = {"residual stenosis, proximal", "residual stenosis, distal",
                                                "residual stenosis, side branch"};
    static const char *const needs[BK_LIMBS] = {"result.segments.proximal.stenosis_pct",
                                                "result.segments.distal.stenosis_pct",
                                                "result.segments.side.stenosis_pct"};
    static const char *const kind[BK_LIMBS] = {"result.segments.proximal.treatment",
                                               "result.segments.distal.treatment",
                                               "result.segments.side.treatment"};
    for (int limb = 0; limb < BK_LIMBS; limb++) {
        const bool judged =
            f->limb[limb].from == BK_RESIDUAL_ENTERED || f->limb[limb].from == BK_RESIDUAL_SAME_VIEW;
        out[limb] = (part){bk_residual_below(&f->limb[limb], stent, balloon), words[limb],
                           judged ? kind[limb] : needs[limb]};
    }
    return BK_LIMBS;
}

static size_t flows(const bk_result_facts *f, part out[])
{
    static const char *const words[BK_LIMBS] = {"TIMI, proximal", "TIMI, distal", "TIMI, side branch"};
    static const char *const needs[BK_LIMBS] = {"result.segments.proximal.timi",
                                                "result.segments.distal.timi", "result.segments.side.timi"};
    for (int limb = 0; limb < BK_LIMBS; limb++)
        out[limb] = (part){full_flow(&f->limb[limb]), words[limb], needs[limb]};
    return BK_LIMBS;
}

static bk_success bif_arc(const bk_result_facts *f, const bk_evidence_set *evidence)
{
    part parts[PARTS_MAX];
    size_t n = residuals(f, bk_evidence_value(evidence, BK_EVIDENCE("result_residual_stent")),
                         bk_evidence_value(evidence, BK_EVIDENCE("result_residual_balloon")), parts);
    parts[n++] = (part){opposite(f->death), "death", "result.death"};
    parts[n++] =
        (part){opposite(f->revascularisation), "renewed revascularisation", "result.revascularisation"};
    parts[n++] = (part){opposite(f->infarction_arc), "infarction by ARC-2", "result.infarction"};
    parts[n++] = (part){opposite(f->stroke), "stroke", "result.stroke"};
    parts[n++] = (part){opposite(f->bleeding_3_or_5), "bleeding of BARC 3 or 5", "injury.bleeding"};
    return join(parts, n, BK_EVIDENCE("result_bif_arc"));
}

/* Types D to F limit flow; A to C do not by themselves. */
static bk_tri no_flow_limit(const bk_result_facts *f)
{
    return f->dissection == BK_DISSECTION_NOT_SAID ? BK_UNKNOWN
           : f->dissection >= BK_DISSECTION_D      ? BK_NO
                                                   : BK_YES;
}

static bk_success acc(const bk_result_facts *f, double stent, double balloon, bool of_2011)
{
    part parts[PARTS_MAX];
    size_t n = residuals(f, stent, balloon, parts);
    n += flows(f, parts + n);
    if (of_2011) {
        parts[n++] = (part){no_flow_limit(f), "dissection", "result.dissection_grade"};
        parts[n++] = (part){opposite(f->stroke), "stroke", "result.stroke"};
    }
    parts[n++] = (part){opposite(f->death), "death", "result.death"};
    parts[n++] = (part){opposite(f->infarction_universal), "infarction", "result.infarction"};
    parts[n++] = (part){opposite(f->bypass_surgery), "emergency bypass operation", "result.bypass_surgery"};
    return join(parts, n, of_2011 ? BK_EVIDENCE("result_acc_2011") : BK_EVIDENCE("result_acc_2005"));
}

void bk_result_success(const bk_result_facts *facts, const bk_evidence_set *evidence,
                       bk_success out[BK_SUCCESSES])
{
    const double balloon = bk_evidence_value(evidence, BK_EVIDENCE("result_residual_2005_balloon"));
    out[BK_SUCCESS_BIF_ARC] = bif_arc(facts, evidence);
    out[BK_SUCCESS_ACC_2011] =
        acc(facts, bk_evidence_value(evidence, BK_EVIDENCE("result_residual_2011")), balloon, true);
    out[BK_SUCCESS_ACC_2005] =
        acc(facts, bk_evidence_value(evidence, BK_EVIDENCE("result_residual_2005")), balloon, false);
}
