/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The three limbs while they are being improved, from the trace to the fit. Used by measure.c only. */
#ifndef BK_CORE_ANATOMY_LOOKS_H
#define BK_CORE_ANATOMY_LOOKS_H

#include "core/anatomy/branch.h"
#include "core/anatomy/occlusion.h"
#include "core/anatomy/window.h"
#include "core/image/edges.h"

#define BK_LOOKS_BLUR_PX 1.0 /* smoothing before edges are looked for */

/* Everything known about the three limbs while it is being improved. */
typedef struct bk_looks {
    const bk_measure_input *in;
    const bk_window *window;
    bk_arena *arena;
    bk_image log_image, edge_image; /* the second is smoothed by BK_LOOKS_BLUR_PX and takes the first's place */
    bool quick;     /* the edges only start a density fit */
    double step_px; /* of the axes; coarse while the edges only start the fit */
    bk_edge_table edge_table;
    double psf_px;
    bk_curve axis[BK_LIMBS]; /* from the branch point outwards once it is known */
    double *radius_px[BK_LIMBS];
    size_t first[BK_LIMBS];  /* sample of axis where limb.axis begins */
    size_t alone[BK_LIMBS];  /* first sample of limb that stands clear of the other limbs */
    size_t outside[BK_LIMBS]; /* first sample with the outside on both sides of it */
    size_t clear[BK_LIMBS];  /* first sample whose edges stand clear of their penumbra */
    bk_lumen_limb limb[BK_LIMBS];
    bk_branch branch;
    bk_tube tube[BK_LIMBS];
    bk_core core;
    bk_patency patency[BK_LIMBS];
    bool flush[BK_LIMBS];    /* occluded so near the core that nothing of it can be measured: its axis is the way to the
                                click, its tube a thread */
    bool again;              /* a stump turned out to be none while it was looked at */
    bool *drawn[BK_LIMBS];   /* samples of limb.axis with a drawn edge; NULL: none */
} bk_looks;

/**
 * Trace, find the branch point and the core, fit: everything up to the limbs' diameter curves, with drawn edges in
 * them. in, window, arena, psf_px, log_image and the table are set; warnings go to out. Errors as bk_bifurcation_measure.
 */
bk_status bk_looks_take(bk_looks *w, bk_bifurcation *out, bk_err *err) BK_MUST_CHECK;

#endif
