/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Nominal device diameters from the references of a bifurcation (docs/methods/sizing.md). */
#ifndef BK_CORE_PLAN_SIZING_H
#define BK_CORE_PLAN_SIZING_H

#include "base/evidence.h"
#include "core/case/facts.h"
#include "core/plan/kissing.h"

enum bk_use { BK_MAIN_STENT, BK_POT_BALLOON, BK_SIDE_BALLOON, BK_KISSING_MAIN, BK_KISSING_SIDE, BK_PREDILATATION, BK_USES };

/** Word of the contract: "main_stent", ... */
const char *bk_use_name(int use);

typedef struct bk_device_size {
    int limb;                   /* whose reference decides */
    double diameter_mm;         /* nominal; NaN when the reference is missing */
    double low_mm, high_mm;     /* nominal sizes at the ends of the reference's 90 % interval; NaN without an SD */
    bk_qty reference;
    const char *evidence_id;    /* rule that decides */
} bk_device_size;

typedef struct bk_sizing {
    bk_device_size item[BK_USES];
    bool has_kissing;
    bk_kissing kissing;          /* of the nominal pair */
    double length_mm;            /* main stent, from landing zones; NaN: held back */
    const char *length_hold;     /* why it is held back; NULL when it is not */
    const char *platform_id;     /* evidence row of the stent class's label maximum; NULL: none fits */
    bool platform_short;         /* the proximal reference exceeds the low end of that maximum */
} bk_sizing;

/**
 * Sizes for a bifurcation: main stent by the distal main reference, POT balloon by the proximal, side balloon by the
 * side branch, kissing pair by the two daughters, predilatation at or below the distal reference.
 *
 * Nominal sizes lie on the grid of the evidence row size_step; the nearest is taken (below, for predilatation).
 * The stent's length is given only from lengths in space; a projected length is a lower bound and holds it back.
 * Source: evidence rows stent_by_distal, pot_by_proximal, kissing_by_daughters, predilatation_ratio, landing_*.
 */
bk_sizing bk_sizing_find(const bk_facts *facts, const bk_evidence_set *evidence);

#endif
