/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the limbs' edges to the model fit. */
#include <math.h>

#include "core/anatomy/looks_inside.h"
#include "core/anatomy/stitch.h"

#define ASSUMED_SCATTER 0.12 /* part of the detected intensity; a wrong guess of 0.1 moves diameters by 0.015 mm */
#define SPARE_MM 6.0        /* outer piece of the longest limb, fitted in the place of a limb without a stump */

/* The fit takes three limbs. Where one is not there, the longest limb is fitted as two pieces, and joined again. */
typedef struct spare {
    int flush, longest; /* limbs; flush is -1 when all three are there */
    size_t cut;         /* sample of the longest limb's axis where the outer piece begins */
} spare;

static bk_status find_spare(const bk_looks *w, spare *out, bk_err *err)
{
    size_t most = 0;
    *out = (spare){-1, 0, 0};
    for (int i = 0; i < BK_LIMBS; i++) {
        if (w->flush[i] && out->flush >= 0)
            return bk_fail(err, BK_E_NOTHING, "two limbs without a lumen were found");
        if (w->flush[i])
            out->flush = i;
        else if (w->axis[i].n > most) {
            most = w->axis[i].n;
            out->longest = i;
        }
    }
    if (out->flush < 0)
        return BK_OK;
    const size_t piece = (size_t)(SPARE_MM / w->in->mm_per_px / w->axis[out->longest].step_px);
    const size_t ostium = (size_t)(w->core.ostium_px[out->longest] / w->axis[out->longest].step_px);
    if (most < ostium + 2 * piece)
        return bk_fail(err, BK_E_NOTHING, "no limb long enough was found beside the one without a lumen");
    out->cut = most - piece;
    return BK_OK;
}

static bk_status run_fit(bk_looks *w, bk_lumen_fit *fit, bk_err *err)
{
    bk_lumen_start start[BK_LIMBS];
    spare s;
    bk_status status = find_spare(w, &s, err);
    if (status != BK_OK)
        return status;
    for (int i = 0; i < BK_LIMBS; i++)
        start[i] = (bk_lumen_start){w->axis[i].points, w->tube[i].diameter_px, w->axis[i].n, w->axis[i].step_px,
                                    w->core.ostium_px[i]};
    if (s.flush >= 0) {
        bk_lumen_start *whole = &start[s.longest];
        start[s.flush] = (bk_lumen_start){whole->axis + s.cut, whole->diameter_px + s.cut, whole->n - s.cut, whole->step_px, 0};
        whole->n = s.cut;
    }
    const bk_lumen_options options = {.mm_per_px = w->in->mm_per_px, .scatter_fraction = ASSUMED_SCATTER,
                                      .psf_sigma_px = w->in->psf_sigma_px, .mask = w->in->mask, .lossy = w->in->lossy,
                                      .whole = w->window->whole, .whole_mask = w->window->whole_mask,
                                      .row0 = w->window->row0, .col0 = w->window->col0};
    status = bk_lumen_fit_limbs(w->in->intensity, start, &options, w->arena, fit, err);
    if (status == BK_OK && s.flush >= 0)
        status = bk_lumen_stitch(&fit->limb[s.longest], &fit->limb[s.flush], w->arena, &fit->limb[s.longest], err);
    return status;
}

static void take_fit(bk_looks *w, const bk_lumen_fit *fit, bk_bifurcation *out)
{
    double contrast = 0, noise = 0;
    int fitted = 0;
    for (int i = 0; i < BK_LIMBS; i++) {
        if (w->flush[i])
            continue;
        const size_t first = (size_t)lround(fit->limb[i].first_px / w->axis[i].step_px);
        const size_t clear = (size_t)((double)(w->first[i] + w->alone[i]) * w->limb[i].step_px / w->axis[i].step_px);
        w->limb[i] = fit->limb[i];
        w->first[i] = first;
        w->alone[i] = clear > first ? clear - first : 0;
        contrast += fit->limb[i].density_per_px / w->in->mm_per_px;
        noise += fit->limb[i].noise;
        fitted++;
    }
    out->by_density = true;
    out->contrast_per_mm = contrast / fitted;
    out->noise = noise / fitted;
    w->psf_px = fit->psf_sigma_px;
}

bk_status bk_looks_fit_density(bk_looks *w, bk_bifurcation *out, bk_err *err)
{
    bk_lumen_fit *fit = BK_NEW(w->arena, 1, bk_lumen_fit, err);
    if (!fit)
        return err ? err->status : BK_E_LIMIT;
    bk_err reason = {0};
    const bk_status status = run_fit(w, fit, &reason);
    if (status == BK_OK)
        take_fit(w, fit, out);
    if (status == BK_E_NOTHING)
        bk_bifurcation_warn(out, "edges_only", "densities could not be used: %.100s", reason.message);
    return status == BK_OK || status == BK_E_NOTHING ? BK_OK : bk_fail(err, status, "%s", reason.message);
}
