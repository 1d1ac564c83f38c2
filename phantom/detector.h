/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From primary intensity to stored values: scatter, quantum and electronic noise, grey scale. */
#ifndef BK_PHANTOM_DETECTOR_H
#define BK_PHANTOM_DETECTOR_H

#include "base/arena.h"
#include "base/random.h"
#include "phantom/scene.h"

#define PH_LOG_SPAN 4.605170185988092 /* ln 100: the logarithmic grey scale spans a factor of 100 */

/** Add scatter x (field blurred with a Gaussian of sigma_px) to a field of rows x cols. */
bk_status ph_detector_scatter(float *field, int32_t rows, int32_t cols, double scatter, double sigma_px,
                              bk_arena *arena, bk_err *err) BK_MUST_CHECK;

/** Value below which a share 0..1 of the field lies. */
bk_status ph_detector_quantile(const float *field, size_t n, double share, bk_arena *arena, double *out,
                               bk_err *err) BK_MUST_CHECK;

typedef struct ph_exposure {
    double photons_per_unit; /* quanta a pixel for intensity 1 */
    double top_photons;      /* quanta at 80 % of the grey scale */
    double electronic_photons;
    bool noise;
    int32_t bits;
    bk_phantom_curve curve;
} ph_exposure;

/** Quanta, noise and grey scale: stored values 0..2^bits - 1. */
bk_status ph_detector_store(const float *field, int32_t rows, int32_t cols, const ph_exposure *exposure,
                            bk_random *random, bk_arena *arena, uint16_t *out, bk_err *err) BK_MUST_CHECK;

#endif
