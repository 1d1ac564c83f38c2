/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/flow/muscle.h"

#include <math.h>

enum { LEFT_DOMINANT = 2 }; /* as in core/case/case_anatomy.c */

static const bk_evidence *row(const bk_evidence_set *evidence, const char *id)
{
    return bk_evidence_find(evidence, id);
}

static bk_vessel lad(const bk_evidence_set *e)
{
    return (bk_vessel){row(e, BK_EVIDENCE("territory_lad")), row(e, BK_EVIDENCE("share_lad")),
                       row(e, BK_EVIDENCE("flow_per_gram_lad")), row(e, BK_EVIDENCE("calibre_lad"))};
}

static bk_vessel lcx(const bk_evidence_set *e, bool left)
{
    return (bk_vessel){row(e, BK_EVIDENCE("territory_lcx")), row(e, BK_EVIDENCE("share_lcx")),
                       row(e, BK_EVIDENCE("flow_per_gram_lcx")),
                       row(e, left ? BK_EVIDENCE("calibre_lcx_left") : BK_EVIDENCE("calibre_lcx_right"))};
}

static bk_vessel rca(const bk_evidence_set *e, bool left)
{
    return (bk_vessel){row(e, BK_EVIDENCE("territory_rca")), row(e, BK_EVIDENCE("share_rca")),
                       row(e, BK_EVIDENCE("flow_per_gram_rca")),
                       row(e, left ? BK_EVIDENCE("calibre_rca_left") : BK_EVIDENCE("calibre_rca_right"))};
}

bk_vessel bk_vessel_of(int site, int limb, int dominance, const bk_evidence_set *evidence)
{
    const bool left = dominance == LEFT_DOMINANT;
    switch (site) {
    case BK_LEFT_MAIN:
        return limb == BK_SIDE ? lcx(evidence, left) : lad(evidence);
    case BK_LAD_DIAGONAL:
        return lad(evidence);
    case BK_LCX_MARGINAL:
        return lcx(evidence, left);
    case BK_RCA_CRUX:
        return rca(evidence, left);
    default:
        return (bk_vessel){0};
    }
}

double bk_calibre_mm(const bk_vessel *vessel, int sex, const bk_evidence_set *evidence)
{
    const double less = sex == BK_FEMALE ? bk_evidence_value(evidence, BK_EVIDENCE("calibre_women")) : 0;
    return vessel->calibre->value * (1 - less / 100);
}

double bk_vessel_grams(const bk_vessel *vessel, bk_qty lv_mass_g)
{
    return bk_has(lv_mass_g) ? lv_mass_g.value * vessel->share->value / 100 : vessel->grams->value;
}

double bk_behind_share(double proximal_mm, double calibre_mm, double exponent)
{
    return fmin(1, pow(proximal_mm / calibre_mm, exponent));
}
