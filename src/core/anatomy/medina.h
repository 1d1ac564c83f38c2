/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Medina class of three measured stenoses, with the classes it could also be. */
#ifndef BK_CORE_ANATOMY_MEDINA_H
#define BK_CORE_ANATOMY_MEDINA_H

#include "core/anatomy/bifurcation.h"

/**
 * Digits (1 when stenosis >= threshold) and the probability of each of the eight classes, the three stenoses
 * taken as independent normals with their SD; classes under 1 % are left out. Stenosis in percent.
 * Source: Medina et al., Rev Esp Cardiol 2006;59:183 (from memory) for the class; probabilities our own.
 */
void bk_medina_classify(const bk_qty stenosis_pct[BK_LIMBS], double threshold_pct, int digits[BK_LIMBS],
                        bk_medina_way ways[BK_MEDINA_WAYS], int *ways_n);

#endif
