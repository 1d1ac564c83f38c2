/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Complexity definitions over the factors of their model. */
#ifndef BK_CORE_RISK_COMPLEXITY_H
#define BK_CORE_RISK_COMPLEXITY_H

#include "core/risk/models.h"

/**
 * DEFINITION: a true bifurcation with the major criterion of its site and at least `needed` minor ones (an
 * angle outside 45..70 degrees is one). Unknown factors leave it unknown unless they cannot change it; so
 * does a site that was not said where the two major criteria differ. Source: evidence rows definition_*.
 */
bk_tri bk_definition_complex(const bk_risk_model *model, int site, int needed);

/** Bif-ARC, angiography: a true bifurcation with at least one of the other signs. Source: row
 * bif_arc_complex. */
bk_tri bk_bif_arc_complex(const bk_risk_model *model);

#endif
