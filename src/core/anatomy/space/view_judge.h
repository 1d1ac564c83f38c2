/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a look is worth for a purpose. Private to views.c and its tests. */
#ifndef BK_CORE_ANATOMY_SPACE_VIEW_JUDGE_H
#define BK_CORE_ANATOMY_SPACE_VIEW_JUDGE_H

#include "core/anatomy/space/look.h"
#include "core/anatomy/space/views.h"

/* Unit directions at the branching, from the chords of the limbs. */
typedef struct bk_branch_axes {
    bk_vec main;      /* along the main vessel, to its distal limb */
    bk_vec mouth;     /* normal of the side branch's mouth in the wall of the main vessel */
    bk_vec plane;     /* normal of the plane of main vessel and side branch */
    bk_vec daughters; /* normal of the plane of the daughters */
} bk_branch_axes;

bk_branch_axes bk_branch_axes_of(const bk_vec chord[BK_LIMBS]);

/** Loss of a look for a purpose, see bk_views_search. */
double bk_view_loss(const bk_look_scene *scene, const bk_branch_axes *axes, const bk_look *look, int purpose, double overlap_weight);

/** Expected share of the purpose's stretch that is covered, 0..1. */
double bk_view_overlap(const bk_look_scene *scene, const bk_look *look, int purpose);

/** All that is said about a position, except whether it is in reach. */
void bk_view_describe(const bk_look_scene *scene, const bk_views_input *input, int purpose, double primary_deg, double secondary_deg,
                      bk_view *out);

#endif
