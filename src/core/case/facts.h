/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The numbers of the bifurcation that every answer works from: one value for each, with its origin and with
   where it was taken from. The contract's precedence is decided here and nowhere else: entered in `anatomy`,
   before `solid`, before the newest baseline measurement. */
#ifndef BK_CORE_CASE_FACTS_H
#define BK_CORE_CASE_FACTS_H

#include "core/case/measured.h"

typedef enum bk_from {
    BK_FROM_NOWHERE = 0,
    BK_FROM_ANATOMY,
    BK_FROM_SOLID,
    BK_FROM_MEASUREMENT,
    BK_FROM_OTHERS /* worked out from other facts */
} bk_from;

typedef struct bk_fact {
    bk_qty q;
    bk_from from;
} bk_fact;

/* The lumen along a limb from the branch point outwards, borrowed from the document; n 0: none, or the narrowest
   lumen was entered by hand and the curve is not the one to believe. */
typedef struct bk_limb_curve {
    const double *position_mm, *diameter_mm;
    const double *reference_mm; /* NULL: the limb's one reference holds all along */
    size_t n;
} bk_limb_curve;

typedef struct bk_limb_facts {
    bk_fact reference_mm, mld_mm, stenosis_pct;
    bk_fact lesion_length_mm, length_mm, vessel_length_mm;
    double lesion_end_mm; /* from the branch point to the far end of the lesion; NaN: not known */
    bool no_lesion;       /* a measurement found none here: its length is 0, not missing */
    bk_limb_curve curve;
    bk_tri occluded;
    bk_qty wedge_mmhg;      /* as entered */
    int timi, stent_layers; /* BK_INTEGER_ABSENT when not said */
} bk_limb_facts;

typedef struct bk_facts {
    bk_limb_facts limb[BK_LIMBS];
    bk_fact core_stenosis_pct, distal_side_deg, proximal_side_deg;
    bk_fact proximal_distal_deg; /* worked out from the other two, as if all lay in a plane, when nothing else says it */
    double scale_sd_pct;   /* NaN when unknown */
    int dominance;         /* choice of bk_anatomy_fields: unknown, right, left, balanced */
    int agreement;         /* enum bk_agreement, of the newest baseline measurement */
    ptrdiff_t measurement; /* index of the newest baseline measurement, -1: none */
} bk_facts;

/* What there is to resolve from. */
typedef struct bk_facts_input {
    const bk_anatomy_input *anatomy;
    const bk_measured *measured;
    size_t measured_n;
    const bk_solid *solid;         /* NULL: none */
    double visual_stenosis_sd_pct; /* spread of a stenosis by eye, evidence row visual_stenosis_sd */
    double solid_length_sd_mm;     /* of a length found on a solid's curve: row length_accuracy_two_views */
} bk_facts_input;

/**
 * Decide every number.
 *
 * A limb's lumen (mld and stenosis) is taken from one source, the first that has either; the other of the two
 * follows from the reference: stenosis = 100 (1 - mld/reference). A stenosis by eye, or built from diameters
 * by eye without SD, has the published SD of visual reading. A solid's lesion length is taken as given, else
 * from its diameter curve. Source: contract ("Precedence", "Numbers and their origin").
 */
bk_facts bk_facts_resolve(const bk_facts_input *input);

/** Newest baseline measurement: latest acquired_at, later in the list where times are missing; -1: none. */
ptrdiff_t bk_facts_newest_baseline(const bk_measured *measured, size_t n);

/** Was a measured before b? By acquired_at where both have one, else by their places in the list. */
bool bk_measured_before(const bk_measured *measured, size_t a, size_t b);

/**
 * SD of a diameter or length with the shared scale in it [its unit]: sqrt(sd^2 + (value scale_sd/100)^2)
 * where it was measured in the picture, sd otherwise; 0 for a value entered as exact; NaN when unknown.
 */
double bk_fact_sd(bk_qty q, double scale_sd_pct);

#endif
