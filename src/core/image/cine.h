/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A run of frames in time. */
#ifndef BK_CORE_IMAGE_CINE_H
#define BK_CORE_IMAGE_CINE_H

#include <stddef.h>
#include <stdint.h>

/**
 * Heart phase of a frame: percent of the interval between the R waves around it, 0 at the R wave.
 * times_ms: n frame times; r_waves: frame numbers from 1, rising. NaN when no two R waves enclose the frame.
 */
double bk_cine_phase_pct(const double *times_ms, size_t n, const int32_t *r_waves, size_t r_waves_n, int32_t frame);

#endif
