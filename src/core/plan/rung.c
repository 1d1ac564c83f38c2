/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/rung.h"

#include <assert.h>
#include <math.h>

const char *const bk_rung_verdict_names[] = {"fits", "tight", "no"};

static void swap_if_smaller(double *a, double *b)
{
    if (*a >= *b)
        return;
    const double keep = *a;
    *a = *b;
    *b = keep;
}

double bk_rung_needed_mm(const double diameters_mm[], int n)
{
    double d[BK_RUNG_DEVICES_MAX] = {0};
    assert(n >= 1 && n <= BK_RUNG_DEVICES_MAX);
    for (int i = 0; i < n; i++)
        d[i] = diameters_mm[i];
    swap_if_smaller(&d[0], &d[1]);
    swap_if_smaller(&d[0], &d[2]);
    swap_if_smaller(&d[1], &d[2]);
    if (n < 3)
        return d[0] + d[1];
    const double k1 = 2 / d[0], k2 = 2 / d[1], k3 = 2 / d[2];
    if (k3 >= k1 + k2 - 2 / (d[0] + d[1]))
        return d[0] + d[1];
    return 2 / fabs(k1 + k2 + k3 - 2 * sqrt(k1 * k2 + k2 * k3 + k1 * k3));
}

double bk_rung_inner_mm(int french, const bk_evidence_set *evidence)
{
    assert(french >= 6 && french <= 8);
    return bk_evidence_value(evidence, french == 6   ? BK_EVIDENCE("rung_guide_6")
                                       : french == 7 ? BK_EVIDENCE("rung_guide_7")
                                                     : BK_EVIDENCE("rung_guide_8"));
}

bk_rung_verdict bk_rung_fit(int french, double needed_mm, const bk_evidence_set *evidence)
{
    const double inner = bk_rung_inner_mm(french, evidence);
    if (needed_mm <= inner - bk_evidence_value(evidence, BK_EVIDENCE("rung_margin")))
        return BK_RUNG_FITS;
    const double soft = french == 6 ? bk_evidence_value(evidence, BK_EVIDENCE("rung_soft_band")) : inner;
    return needed_mm <= soft ? BK_RUNG_TIGHT : BK_RUNG_NO;
}
