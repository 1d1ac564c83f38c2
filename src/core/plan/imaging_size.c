/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/imaging_size.h"

#include <math.h>

#define PI 3.14159265358979323846
#define SLACK 1e-9 /* of a step: 3.0 stays 3.0 after an inexact root */

static bool before_stenting(const bk_imaging *entry)
{
    return entry->stage == BK_STAGE_NOT_SAID || entry->stage == BK_STAGE_BASELINE ||
           entry->stage == BK_STAGE_PREDILATED;
}

static double diameter(bk_qty area)
{
    return bk_has(area) && area.value > 0 ? 2 * sqrt(area.value / PI) : (double)NAN;
}

bk_imaging_size bk_imaging_size_of(const bk_list *imaging, enum bk_limb limb, const bk_evidence_set *evidence)
{
    const double step = bk_evidence_value(evidence, BK_EVIDENCE("size_step"));
    bk_imaging_size out = {BK_IMAGING_NOT_SAID, (double)NAN, (double)NAN, (double)NAN, (double)NAN};
    const bk_imaging *entries = BK_ITEMS(*imaging, const bk_imaging);
    for (size_t i = 0; i < imaging->n; i++) {
        const bk_imaging *e = &entries[i];
        // the words of a limb begin with "not said"
        if (e->limb != (int)limb + 1 || !before_stenting(e) ||
            (!bk_has(e->reference_area_mm2) && !bk_has(e->vessel_area_mm2)))
            continue;
        out.mode = e->mode;
        out.lumen_mm = diameter(e->reference_area_mm2);
        out.vessel_mm = diameter(e->vessel_area_mm2);
    }
    out.by_lumen_mm = step * ceil(out.lumen_mm / step - SLACK);
    out.by_vessel_mm = step * floor(out.vessel_mm / step + SLACK);
    return out;
}

static double highest_score(const bk_list *imaging, int mode)
{
    const bk_imaging *entries = BK_ITEMS(*imaging, const bk_imaging);
    double out = (double)NAN;
    for (size_t i = 0; i < imaging->n; i++)
        if (entries[i].mode == mode && before_stenting(&entries[i]) &&
            entries[i].calcium_score != BK_INTEGER_ABSENT)
            out = fmax(out, entries[i].calcium_score);
    return out;
}

static bk_tri reached(double score, double threshold)
{
    return isnan(score) ? BK_UNKNOWN : score >= threshold ? BK_YES : BK_NO;
}

bk_calcium_triggers bk_calcium_triggers_of(int calcium, const bk_list *imaging,
                                           const bk_evidence_set *evidence)
{
    bk_calcium_triggers out = {BK_UNKNOWN, BK_UNKNOWN, BK_UNKNOWN, highest_score(imaging, BK_OCT),
                               highest_score(imaging, BK_IVUS)};
    if (calcium != BK_CALCIUM_UNKNOWN)
        out.angiography = calcium >= BK_CALCIUM_MODERATE ? BK_YES : BK_NO;
    out.oct = reached(out.oct_score, bk_evidence_value(evidence, BK_EVIDENCE("calcium_oct_modify")));
    out.ivus = reached(out.ivus_score, bk_evidence_value(evidence, BK_EVIDENCE("calcium_ivus_modify")));
    return out;
}

static bk_tri stenosed(const bk_limb_facts *limb, double threshold_pct)
{
    return reached(bk_has(limb->stenosis_pct.q) ? limb->stenosis_pct.q.value : (double)NAN, threshold_pct);
}

bk_tri bk_true_bifurcation(const bk_facts *facts, double threshold_pct)
{
    const bk_tri side = stenosed(&facts->limb[BK_SIDE], threshold_pct),
                 proximal = stenosed(&facts->limb[BK_PROXIMAL], threshold_pct),
                 distal = stenosed(&facts->limb[BK_DISTAL], threshold_pct);
    if (side == BK_NO || (proximal == BK_NO && distal == BK_NO))
        return BK_NO;
    return side == BK_YES && (proximal == BK_YES || distal == BK_YES) ? BK_YES : BK_UNKNOWN;
}
