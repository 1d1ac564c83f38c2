/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/risk/complexity.h"

static bk_tri present(const bk_risk_model *model, const char *id)
{
    const bk_factor *factor = bk_risk_factor(model, id);
    return factor ? factor->present : BK_UNKNOWN;
}

static bk_tri both(bk_tri a, bk_tri b)
{
    if (a == BK_NO || b == BK_NO)
        return BK_NO;
    return a == BK_YES && b == BK_YES ? BK_YES : BK_UNKNOWN;
}

/* At least `needed` of n answers are yes. */
static bk_tri some_of(const bk_tri answers[], int n, int needed)
{
    int yes = 0, unknown = 0;
    for (int i = 0; i < n; i++) {
        yes += answers[i] == BK_YES;
        unknown += answers[i] == BK_UNKNOWN;
    }
    return yes >= needed ? BK_YES : yes + unknown < needed ? BK_NO : BK_UNKNOWN;
}

static bk_tri major_stenosis(const bk_risk_model *model, int site)
{
    const bk_tri left_main = present(model, "side_stenosis_70"), other = present(model, "side_stenosis_90");
    if (site == BK_LEFT_MAIN)
        return left_main;
    if (site == BK_SITE_NOT_SAID && left_main != other)
        return BK_UNKNOWN;
    return other;
}

bk_tri bk_definition_complex(const bk_risk_model *model, int site, int needed)
{
    const bk_tri angles[] = {present(model, "angle_below_45"), present(model, "angle_above_70")};
    const bk_tri minor[] = {present(model, "calcium_moderate"),
                            present(model, "multiple_lesions"),
                            some_of(angles, 2, 1),
                            present(model, "main_reference_below_2_5"),
                            present(model, "thrombus"),
                            present(model, "main_lesion_25mm")};
    const bk_tri major = both(major_stenosis(model, site), present(model, "side_lesion_10mm"));
    return both(both(present(model, "true_bifurcation"), major), some_of(minor, 6, needed));
}

bk_tri bk_bif_arc_complex(const bk_risk_model *model)
{
    // the access angle raises the chance of difficult access but is not itself the criterion
    const bk_tri signs[] = {present(model, "side_lesion_10mm"), present(model, "calcified"),
                            present(model, "thrombus"), present(model, "access_difficult")};
    return both(present(model, "true_bifurcation"), some_of(signs, 4, 1));
}
