/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Radiation: notices while it runs, the level from which the skin is followed up, and an estimate of skin
   dose. docs/methods/budget.md */
#ifndef BK_CORE_PATIENT_RADIATION_H
#define BK_CORE_PATIENT_RADIATION_H

#include <stdbool.h>

#include "base/evidence.h"

typedef enum bk_dose_metric {
    BK_DOSE_SKIN,
    BK_DOSE_KERMA,
    BK_DOSE_AREA,
    BK_DOSE_FLUORO,
    BK_DOSE_METRICS
} bk_dose_metric;
extern const char *const bk_dose_words[BK_DOSE_METRICS];
extern const char *const bk_dose_units[BK_DOSE_METRICS]; /* Gy, Gy, Gy.cm2, min */

/* Levels of one metric. Source: rows notice_*. */
typedef struct bk_dose_levels {
    double first, every, substantial;
    const char *first_row, *substantial_row;
} bk_dose_levels;
bk_dose_levels bk_dose_levels_of(bk_dose_metric metric, const bk_evidence_set *evidence);

typedef struct bk_notices {
    int n;            /* levels reached: first, first + every, ... */
    double last;      /* the highest of them; NaN: none */
    double next;      /* the next one; NaN for a value that is not known */
    bool substantial; /* the follow-up level is reached */
} bk_notices;

/** Notices that a reading has passed; a level counts from its very value. NaN: none. */
bk_notices bk_notices_of(double reading, const bk_dose_levels *levels);

/** Kerma-area product [Gy.cm2] from the image tag's dGy.cm2. */
double bk_kerma_area_gy_cm2(double dgy_cm2, const bk_evidence_set *evidence);
/** Mean field at the reference point [cm2]; NaN without both. */
double bk_mean_field_cm2(double kerma_area_gy_cm2, double air_kerma_gy);

/**
 * Peak skin dose [Gy] = air kerma (d_reference/d_skin)^2 backscatter transmission tissue; one static field,
 * so an upper bound where angulations vary; off by half either way at least. Distances from the tube [cm].
 * Source: rows skin_*.
 */
double bk_skin_dose_gy(double air_kerma_gy, double reference_cm, double skin_cm, bool table_in_beam,
                       const bk_evidence_set *evidence);
/** Row of the skin reactions published for a skin dose [Gy], lower end included; NULL for NaN. */
const char *bk_skin_band_row(double skin_dose_gy, const bk_evidence_set *evidence);

#endif
