/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Everything behind and before the heart: soft tissue, lung, ribs, spine, diaphragm, as attenuation in log
 * units. */
#ifndef BK_PHANTOM_BODY_H
#define BK_PHANTOM_BODY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/random.h"

#define PH_RIBS_MAX 5

typedef struct ph_rib {
    double y_mm, slope,
        bend; /* centre line y + slope x + bend x^2, at the isocentre plane, origin in the middle */
    double half_mm, strength; /* half width, log attenuation of the cortex seen flat */
} ph_rib;

typedef struct ph_edge {
    bool present;
    double at_mm, slope, bend, soft_mm, strength;
    double wave_mm, phase; /* the margin of a row of vertebrae is not straight */
} ph_edge;

typedef struct ph_body {
    double water_mm;          /* thickness in the middle */
    double tilt[2], curve[3]; /* change of thickness [mm] over the half field: linear, and xx, xy, yy */
    double mottle[3];         /* size [log units] of the texture at cells of 16, 8, 4 mm */
    uint64_t mottle_seed;
    int ribs;
    ph_rib rib[PH_RIBS_MAX];
    ph_edge spine, diaphragm;
} ph_body;

void ph_body_draw(ph_body *body, bk_random *random);

/** Attenuation of rows x cols pixels, relative to the middle of the body; mm_per_px at the isocentre. */
void ph_body_attenuation(const ph_body *body, int32_t rows, int32_t cols, double mm_per_px, float *out);

#endif
