/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/space/doubts.h"

#include <math.h>
#include <string.h>

#include "base/format.h"

#define BETTER 0.5       /* of the cost: another reading that fits so much better is the likelier one */
#define BETTER_LEAST 12.0 /* and by so many squared SD at least: see COST_MOST */
#define AS_GOOD 9.0 /* squared SD: readings so near to each other are not told apart */
#define TELL_DEG 10.0 /* smaller angles are nearly the same with either sign */
#define JOINED_LESS 0.1  /* and that joins nearly as much of the limbs: what matches little costs little */
#define JOINED_LEAST 0.65
#define COST_MOST 100.0 /* right pairs of phantoms cost 3 to 75 */
#define DISAGREE_SDS 4.0 /* an eccentric lumen differs as well: the message says what is seen, the SD has it */
#define RMS_MOST_PX 1.5
#define GAP_MOST_MM 1.2

static void doubt(bk_space_doubts *out, const char *code, const char *message)
{
    if (out->n == BK_SPACE_DOUBTS_MAX)
        return;
    bk_space_doubt *const one = &out->doubt[out->n++];
    bk_format(one->code, sizeof one->code, "%s", code);
    bk_format(one->message, sizeof one->message, "%s", message);
}

/* Cost of the views read in another way; infinite when they cannot be read so, or join less of the limbs than `least`. */
static bk_status cost_of(const bk_sight *sight, size_t views, const bk_space_options *options, double least,
                         bk_arena *arena, double *cost, bk_err *err)
{
    bk_arena room = bk_arena_child(arena);
    bk_space_fit fit;
    bk_err own = {0};
    bk_space_options cost_only = *options;
    cost_only.covariance = false;
    const bk_status status = bk_space_fit_limbs(sight, views, &cost_only, &room, &fit, &own);
    *cost = status == BK_OK && fit.joined >= least ? fit.cost : (double)INFINITY;
    bk_arena_child_end(&room, arena);
    if (status == BK_OK || status == BK_E_NOTHING)
        return BK_OK;
    *err = own;
    return status;
}

static bool far_better(double cost, double than)
{
    return cost < BETTER * than && cost < than - BETTER_LEAST;
}

static bk_status try_readings(const bk_sight *sight, size_t views, const bk_space_options *options, const bk_space_fit *fit,
                              bk_arena *arena, bk_space_doubts *out, bk_err *err)
{
    char text[180];
    const double cost = fit->cost, least = fit->joined - JOINED_LESS;
    bk_status status = BK_OK;
    for (size_t v = 0; v < views && status == BK_OK; v++) {
        bk_sight other[BK_SIGHTS_MAX];
        double flipped = INFINITY, swapped = INFINITY;
        memcpy(other, sight, views * sizeof *other);
        other[v].carm.primary_deg = -other[v].carm.primary_deg;
        status = bk_carm_set(&other[v].carm, err);
        if (status == BK_OK)
            status = cost_of(other, views, options, least, arena, &flipped, err);
        memcpy(other, sight, views * sizeof *other);
        other[v].limb[BK_DISTAL] = sight[v].limb[BK_SIDE];
        other[v].limb[BK_SIDE] = sight[v].limb[BK_DISTAL];
        if (status == BK_OK && v > 0)
            status = cost_of(other, views, options, least, arena, &swapped, err);
        if (far_better(flipped, cost) && flipped <= swapped) {
            bk_format(text, sizeof text, "view %zu fits far better with its primary angle at %+.1f degrees: check the sign in its header",
                      v + 1, -sight[v].carm.primary_deg);
            doubt(out, "primary_sign", text);
        } else if (flipped < cost + AS_GOOD && fabs(sight[v].carm.primary_deg) >= TELL_DEG) {
            bk_format(text, sizeof text, "view %zu fits as well with its primary angle at %+.1f degrees: the sign in its header cannot be checked here",
                      v + 1, -sight[v].carm.primary_deg);
            doubt(out, "primary_sign_open", text);
        }
        if (far_better(swapped, cost) && swapped < flipped) {
            bk_format(text, sizeof text, "view %zu fits far better with distal main vessel and side branch exchanged: check its clicks", v + 1);
            doubt(out, "limbs_swapped", text);
        } else if (swapped < cost + AS_GOOD) {
            bk_format(text, sizeof text, "view %zu fits as well with distal main vessel and side branch exchanged: look at both overlays", v + 1);
            doubt(out, "limbs_open", text);
        }
    }
    return status;
}

bk_status bk_space_doubts_find(const bk_sight *sight, size_t views, const bk_space_options *options,
                               const bk_space_limits *limits, const bk_space_solid *solid, bk_arena *arena,
                               bk_space_doubts *out, bk_err *err)
{
    char text[180];
    *out = (bk_space_doubts){0};
    if (solid->view_separation_deg < limits->separation_least_deg) {
        bk_format(text, sizeof text, "the views are %.0f degrees apart, %.0f or more are needed: depth is hardly known",
                  solid->view_separation_deg, limits->separation_least_deg);
        doubt(out, "views_near", text);
    } else if (solid->view_separation_deg < limits->separation_usual_deg) {
        bk_format(text, sizeof text, "the views are %.0f degrees apart, from %.0f on depth is better known", solid->view_separation_deg,
                  limits->separation_usual_deg);
        doubt(out, "views_close", text);
    }
    for (size_t v = 1; v < views; v++)
        if (fabs(solid->fit.shift_mm[v]) > limits->shift_most_mm) {
            bk_format(text, sizeof text, "the anatomy of view %zu lies %.1f mm off, breathing moves it up to %.0f: table moved, or wrong angles",
                      v + 1, fabs(solid->fit.shift_mm[v]), limits->shift_most_mm);
            doubt(out, "shift_large", text);
        }
    const bk_space_fit *const fit = &solid->fit;
    if (fit->rms_px > RMS_MOST_PX || fit->gap_mm > GAP_MOST_MM || fit->cost > COST_MOST || fit->joined < JOINED_LEAST) {
        bk_format(text, sizeof text, "the views do not agree on one shape (%.1f px, gaps %.1f mm, %.0f squared SD, %.0f %% joined): motion, wrong angles or another vessel",
                  fit->rms_px, fit->gap_mm, fit->cost, 100 * fit->joined);
        doubt(out, "views_disagree", text);
    }
    for (size_t k = 0; k < BK_LIMBS; k++)
        if (solid->limb[k].disagreement > DISAGREE_SDS) {
            bk_format(text, sizeof text, "the views differ on the narrowest lumen of the %s limb by %.1f SD: one of them hides it",
                      bk_limb_name((int)k), solid->limb[k].disagreement);
            doubt(out, "diameters_disagree", text);
        }
    return try_readings(sight, views, options, &solid->fit, arena, out, err);
}
