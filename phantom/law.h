/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Branching laws: the mother diameter that belongs to two daughters.
   Murray, PNAS 1926;12:207: Dm^3 = D1^3 + D2^3. Huo & Kassab, EuroIntervention 2012;7:1310: exponent 7/3.
   Finet et al., EuroIntervention 2008;3:490: Dm = 0.678 (D1 + D2). */
#ifndef BK_PHANTOM_LAW_H
#define BK_PHANTOM_LAW_H

typedef enum ph_branch_law { PH_LAW_HK, PH_LAW_FINET, PH_LAW_MURRAY, PH_LAW_GIVEN } ph_branch_law;

/** Mother diameter [mm] of two daughters [mm]; NaN for PH_LAW_GIVEN. */
double ph_law_mother_mm(ph_branch_law law, double first_mm, double second_mm);
const char *ph_law_name(ph_branch_law law);

#endif
