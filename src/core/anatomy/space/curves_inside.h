/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files of the curves' fit share. Not for use outside src/core/anatomy/space. */
#ifndef BK_CORE_ANATOMY_SPACE_CURVES_INSIDE_H
#define BK_CORE_ANATOMY_SPACE_CURVES_INSIDE_H

#include "core/anatomy/space/curves.h"

#define BK_CURVES_STEP_MM 0.5

enum { BK_CURVES_PER_VIEW = 3 }; /* unknowns of a later view: shift, primary, secondary */

typedef struct bk_curves {
    const bk_sight *sight;
    const bk_space_options *options;
    bk_space_fit *fit;
    size_t first_view; /* index of the second view's unknowns */
    bk_vec across[BK_SIGHTS_MAX];
    double *matrix, *right; /* the second becomes the step */
    double distance2, distances;
    bk_err *err;
} bk_curves;

/** Index of a later view's first unknown. */
size_t bk_curves_view_unknown(const bk_curves *w, size_t view);
/** The C-arm of a later view at its unknowns. */
bk_carm bk_curves_carm(const bk_curves *w, size_t view, double shift_mm, const double turn_deg[2]);

/** Shifts, matches and first curves (curves_start.c). Errors: those of bk_space_fit_limbs. */
bk_status bk_curves_start(bk_curves *w, bk_arena *room, bk_arena *arena) BK_MUST_CHECK;

/** Add the equations of a sample, of the branch points, of the priors; each returns its squares (curves_rows.c). */
double bk_curves_sample_rows(bk_curves *w, size_t limb, size_t k);
double bk_curves_branch_rows(bk_curves *w);
double bk_curves_prior_rows(bk_curves *w);

#endif
