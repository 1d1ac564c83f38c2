/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/branching.h"

#include <math.h>

bk_branching_law bk_law_fractal(const bk_evidence_set *evidence)
{
    return (bk_branching_law){true, bk_evidence_value(evidence, BK_EVIDENCE("law_fractal"))};
}
bk_branching_law bk_law_hk(const bk_evidence_set *evidence)
{
    return (bk_branching_law){false, bk_evidence_value(evidence, BK_EVIDENCE("law_hk"))};
}
bk_branching_law bk_law_murray(const bk_evidence_set *evidence)
{
    return (bk_branching_law){false, bk_evidence_value(evidence, BK_EVIDENCE("law_murray"))};
}
bk_branching_law bk_law_area(const bk_evidence_set *evidence)
{
    return (bk_branching_law){false, bk_evidence_value(evidence, BK_EVIDENCE("law_area"))};
}
bk_branching_law bk_law_two_thirds(const bk_evidence_set *evidence)
{
    return (bk_branching_law){true, bk_evidence_value(evidence, BK_EVIDENCE("law_two_thirds"))};
}

double bk_branching_mother(bk_branching_law law, double d1, double d2)
{
    return law.linear ? law.k * (d1 + d2) : pow(pow(d1, law.k) + pow(d2, law.k), 1 / law.k);
}

double bk_branching_daughter(bk_branching_law law, double mother, double d1)
{
    if (law.linear)
        return mother / law.k > d1 ? mother / law.k - d1 : (double)NAN;
    return mother > d1 ? pow(pow(mother, law.k) - pow(d1, law.k), 1 / law.k) : (double)NAN;
}

double bk_branching_mother_sd(bk_branching_law law, double d1, double d2, double sd1, double sd2)
{
    const double mother = bk_branching_mother(law, d1, d2);
    const double slope1 = law.linear ? law.k : pow(d1 / mother, law.k - 1);
    const double slope2 = law.linear ? law.k : pow(d2 / mother, law.k - 1);
    return hypot(slope1 * sd1, slope2 * sd2);
}
