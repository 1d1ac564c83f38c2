/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Does contrast reach the click? Method and figures: docs/methods/occlusion.md. */
#ifndef BK_CORE_ANATOMY_OCCLUSION_H
#define BK_CORE_ANATOMY_OCCLUSION_H

#include <stdbool.h>

#include "core/anatomy/trace.h"

typedef struct bk_patency {
    bool occluded, refills;
    double step_px;       /* between samples of the traced limb */
    size_t stop;          /* first sample of the traced limb without contrast; its n when there is none */
    size_t refill;        /* first sample behind the gap that is filled again; n: none before the click */
    bool doubtful;        /* a stretch that may be a thread or a gap: too noisy to tell */
    size_t doubt;         /* its first sample; n of the limb when there is none */
    size_t dim;           /* first sample without contrast, however short the stretch */
    const bk_pt_px *way;  /* points of the traced limb */
    double seen_least_mm; /* smallest lumen that would have been told from nothing there (one-sided 95 %) */
} bk_patency;

/**
 * Look along each traced limb for contrast.
 *
 * Method  on scan lines averaged over 1.5 mm of vessel: the integral of contrast across a narrow band, which for any
 *         lumen is density x its area, against the same of a lumen of 0.3 mm with the density of the proximal limb.
 *         A gap of about 2.5 mm or more, all of it under that, is an occlusion; a shorter one, or a thread that
 *         drowns in the noise, is a doubt.
 * Source  Beer-Lambert; limits are our own, from phantoms (docs/methods/occlusion.md)
 * Errors  BK_E_LIMIT
 */
bk_status bk_patency_find(const bk_image *log_image, const bk_trace *trace, double mm_per_px, bk_arena *arena,
                          bk_patency out[BK_LIMBS], bk_err *err) BK_MUST_CHECK;

/** Call a limb occluded that shows contrast here and there, but whose path follows no vessel. */
void bk_patency_close(bk_patency *patency);

#endif
