/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Muscle behind each daughter, by every method for which there is something to go on. docs/methods/flow.md */
#ifndef BK_CORE_FLOW_TERRITORY_H
#define BK_CORE_FLOW_TERRITORY_H

#include "base/evidence.h"
#include "core/case/facts.h"

typedef enum bk_territory_method {
    BK_TERRITORY_LENGTHS,   /* the vessel's grams by the share of tree length */
    BK_TERRITORY_DIAMETERS, /* by the healthy diameters to the exponent of the flow split */
    BK_TERRITORY_VESSEL,    /* left main: each daughter is a vessel with its own published grams */
    BK_TERRITORY_SITE,      /* published share of a branch of this site; of the side branch only */
    BK_TERRITORY_METHODS
} bk_territory_method;
/** "lengths", "diameters", "vessel", "site". */
extern const char *const bk_territory_method_names[BK_TERRITORY_METHODS];

typedef struct bk_mass { /* NaN: not known; 90 % interval, never below 0 */
    double value, low, high;
} bk_mass;

typedef struct bk_territory {
    bool known[BK_TERRITORY_METHODS];
    bk_mass grams[BK_TERRITORY_METHODS][BK_LIMBS];   /* entry BK_PROXIMAL unused */
    bk_mass percent[BK_TERRITORY_METHODS][BK_LIMBS]; /* of the LV mass; NaN without it */
    double lv_grams;                                 /* NaN: not known */
} bk_territory;

/** LV mass [g] = a H^0.54 W^0.61, H in m, W in kg; NaN when height, weight or sex is missing. */
double bk_lv_mass(const bk_patient *patient, const bk_evidence_set *evidence);

/**
 * Intervals: SD of the published grams together with the range of the exponent, as independent parts.
 * LV mass is taken without spread: none is at hand in the source.
 */
bk_territory bk_territory_of(const bk_facts *facts, const bk_patient *patient, int site,
                             const bk_evidence_set *evidence);

#endif
