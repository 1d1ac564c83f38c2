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

typedef struct bk_lv {
    double grams, sd; /* NaN: not known */
    bool entered;     /* from imaging, not from body size */
} bk_lv;

typedef struct bk_territory {
    bool known[BK_TERRITORY_METHODS];
    bk_mass grams[BK_TERRITORY_METHODS][BK_LIMBS];   /* entry BK_PROXIMAL unused */
    bk_mass percent[BK_TERRITORY_METHODS][BK_LIMBS]; /* of the LV mass; NaN without it */
    bk_lv lv;
} bk_territory;

/**
 * LV mass: as entered, else a H^0.54 W^0.61 [g], H in m, W in kg, with the spread of such formulas; NaN when height,
 * weight or sex is missing too.
 */
bk_lv bk_lv_mass(const bk_patient *patient, const bk_evidence_set *evidence);

/**
 * Vessel x share of it behind this bifurcation (bk_behind_share) x share of the daughter. The vessel: the published
 * share of an LV mass that was entered, else published grams. Intervals: SD of the published grams, spread of usual
 * calibres, range of the exponent, SD of the LV mass, as independent relative parts.
 */
bk_territory bk_territory_of(const bk_facts *facts, const bk_patient *patient, int site,
                             const bk_evidence_set *evidence);

#endif
