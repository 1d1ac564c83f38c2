/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/segment.h"

#include <math.h>
#include <string.h>

#include "base/order.h"
#include "core/anatomy/corrections.h"
#include "core/anatomy/lesion.h"
#include "core/anatomy/minimum.h"

#define STRETCH_MM 0.5      /* the MLD is the mean over this much vessel */
#define CLEARLY_SDS 1.645
#define MEND_MOST_SDS 1.0    /* the MLD is not mended by more than this */
#define LESION_LEAST_PCT 20 /* under this stenosis no lesion length is given */

typedef struct worker {
    const bk_segment_input *in;
    bk_segment *out;
    bk_reference line;
    size_t first, n;       /* limb samples first .. first+n-1 are the profile */
    double step_mm;
    size_t mld_from, mld_to; /* profile samples averaged for the MLD */
    bool *excluded;          /* n */
    bool *trusted;           /* n: samples that take part in the MLD */
    double sd_limit;         /* of a sample that is seen clearly */
} worker;

static bool is_drawn(const worker *w, size_t i)
{
    return w->in->drawn && w->in->drawn[w->first + i];
}

/* Variance of a weighted sum of diameter samples [mm^2]: from the spline's covariance, and for samples with a drawn
   edge from their SD, as errors that all samples share (a hand strays slowly). */
static double variance_of(const worker *w, const double *sample_weight, bk_arena *arena, bk_err *err)
{
    const bk_lumen_limb *limb = w->in->limb;
    const size_t m = limb->knots_n;
    double *g = BK_NEW(arena, m, double, err);
    if (!g)
        return NAN;
    double by_hand = 0;
    for (size_t i = 0; i < w->n; i++) {
        if (is_drawn(w, i))
            by_hand += sample_weight[i] * limb->sd_px[w->first + i];
        else if (sample_weight[i] != 0)
            for (size_t k = 0; k < m; k++)
                g[k] += sample_weight[i] * limb->basis[(w->first + i) * m + k];
    }
    double v = by_hand * by_hand;
    for (size_t j = 0; j < m; j++)
        if (g[j] != 0)
            for (size_t k = 0; k < m; k++)
                v += g[j] * g[k] * limb->covariance[j * m + k];
    return fmax(v, 0) * w->in->mm_per_px * w->in->mm_per_px;
}

static bk_status fill_profile(worker *w, bk_arena *arena, bk_err *err)
{
    const bk_lumen_limb *limb = w->in->limb;
    bk_segment *out = w->out;
    const double mm = w->in->mm_per_px;
    out->n = w->n;
    out->position_mm = BK_NEW(arena, w->n, double, err);
    out->diameter_mm = BK_NEW(arena, w->n, double, err);
    out->sd_mm = BK_NEW(arena, w->n, double, err);
    out->reference_at_mm = BK_NEW(arena, w->n, double, err);
    out->axis = BK_NEW(arena, w->n, bk_pt_px, err);
    out->left = BK_NEW(arena, w->n, bk_pt_px, err);
    out->right = BK_NEW(arena, w->n, bk_pt_px, err);
    if (!out->position_mm || !out->diameter_mm || !out->sd_mm || !out->reference_at_mm || !out->axis || !out->left ||
        !out->right)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < w->n; i++) {
        const size_t k = w->first + i;
        const bk_pt_px p = limb->axis[k], normal = limb->normal[k];
        const double half = 0.5 * limb->diameter_px[k];
        out->position_mm[i] = (w->in->origin_px + (double)k * limb->step_px) * mm;
        out->diameter_mm[i] = limb->diameter_px[k] * mm;
        out->sd_mm[i] = limb->sd_px[k] * mm;
        out->axis[i] = p;
        out->left[i] = (bk_pt_px){p.x + half * normal.x, p.y + half * normal.y};
        out->right[i] = (bk_pt_px){p.x - half * normal.x, p.y - half * normal.y};
    }
    return BK_OK;
}

/* SD by noise alone: how clearly a sample was seen. That the model misses something there is another matter. */
static double seen_sd(const worker *w, size_t i)
{
    const double *misfit = w->in->limb->misfit;
    return w->out->sd_mm[i] / (misfit ? misfit[w->first + i] : 1);
}

/* Where the fit hardly saw the vessel a minimum would be an invention of the spline. The lower quartile: a good part of a
   limb may be hidden, and the rest still says what is seen clearly. */
static double trusted_sd(const worker *w, bk_arena *arena, bk_err *err)
{
    double *sorted = BK_NEW(arena, w->n, double, err);
    if (!sorted)
        return INFINITY;
    for (size_t i = 0; i < w->n; i++)
        sorted[i] = seen_sd(w, i);
    return fmax(4 * bk_select(sorted, w->n, w->n / 4), 0.15);
}

static size_t half_stretch(const worker *w)
{
    return (size_t)fmax(floor(0.5 * STRETCH_MM / w->step_mm), 0);
}

/* Clear samples, those that a person drew, and between clear ones those that are surely narrower than all of them: a
   lumen that nearly closes can hardly be seen. */
static bk_status find_trusted(worker *w, double sd_limit, bk_arena *arena, bk_err *err)
{
    const double *d = w->out->diameter_mm;
    size_t first = w->n, last = 0;
    double least = INFINITY;
    w->trusted = BK_NEW(arena, w->n, bool, err);
    if (!w->trusted)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < w->n; i++) {
        w->trusted[i] = seen_sd(w, i) <= sd_limit || is_drawn(w, i);
        if (!w->trusted[i])
            continue;
        first = i < first ? i : first;
        last = i;
        least = w->excluded[i] ? least : fmin(least, d[i]);
    }
    for (size_t i = first; i < last; i++)
        w->trusted[i] = w->trusted[i] || d[i] + CLEARLY_SDS * seen_sd(w, i) < least;
    return BK_OK;
}

/* Smallest mean over STRETCH_MM; excluded samples count only when `all`. Infinite when there is none. */
static double find_least(const worker *w, bool all, size_t *from, size_t *to)
{
    const size_t half = half_stretch(w);
    double least = INFINITY;
    for (size_t i = half; i + half < w->n; i++) {
        double sum = 0;
        bool trusted = true;
        for (size_t k = i - half; k <= i + half; k++) {
            sum += w->out->diameter_mm[k];
            trusted = trusted && w->trusted[k] && (all || !w->excluded[k]);
        }
        const double mean = sum / (double)(2 * half + 1);
        if (trusted && mean < least) {
            least = mean;
            *from = i - half;
            *to = i + half;
        }
    }
    return least;
}

static double middle_mm(const worker *w, size_t from, size_t to)
{
    return 0.5 * (w->out->position_mm[from] + w->out->position_mm[to]);
}

static bk_status find_mld(worker *w, bk_hidden_mld *hidden, bk_err *err)
{
    if (w->in->occluded) { /* where the lumen stops */
        w->mld_from = w->mld_to = w->n - 1;
        w->out->mld_mm = bk_qty_of(w->out->diameter_mm[w->n - 1], 0, BK_MEASURED);
        w->out->mld_position_mm = w->out->position_mm[w->n - 1];
        return BK_OK;
    }
    size_t from = 0, to = 0;
    const double least = find_least(w, false, &w->mld_from, &w->mld_to);
    const double least_of_all = find_least(w, true, &from, &to);
    if (!isfinite(least) && isfinite(least_of_all))
        return bk_fail(err, bk_corrections_blame(w->in->corrections),
                       "exclude: no stretch of the %s limb is left, one for the smallest diameter was expected",
                       bk_limb_name(w->in->limb_index));
    if (!isfinite(least))
        return bk_fail(err, BK_E_NOTHING, "no stretch of a limb was seen clearly enough for a minimal diameter");
    w->out->mld_mm = bk_qty_of(least, 0, BK_MEASURED);
    w->out->mld_position_mm = middle_mm(w, w->mld_from, w->mld_to);
    if (least_of_all < least)
        *hidden = (bk_hidden_mld){bk_qty_of(least_of_all, NAN, BK_MEASURED), middle_mm(w, from, to)};
    return BK_OK;
}

static double mean_sd(const worker *w)
{
    double sum = 0;
    for (size_t i = w->mld_from; i <= w->mld_to; i++)
        sum += w->out->sd_mm[i];
    return sum / (double)(w->mld_to - w->mld_from + 1);
}

/* The least of many noisy means reads low; see minimum.h. */
static bk_status mend_mld(worker *w, bk_arena *arena, bk_err *err)
{
    bk_segment *out = w->out;
    if (w->in->occluded || w->in->drawn)
        return BK_OK;
    bool *allowed = BK_NEW(arena, w->n, bool, err);
    if (!allowed)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < w->n; i++)
        allowed[i] = seen_sd(w, i) <= 0.5 * w->sd_limit && !w->excluded[i];
    const bk_minimum_input input = {w->in->limb,      w->first,   w->n,
                                    w->in->mm_per_px, half_stretch(w), out->diameter_mm,
                                    out->sd_mm,       out->reference_at_mm, allowed};
    double bias_mm = 0;
    const bk_status status = bk_minimum_bias(&input, arena, &bias_mm, err);
    out->mld_mm.value -= fmax(bias_mm, -MEND_MOST_SDS * mean_sd(w));
    return status;
}

static void fill_ratio(bk_segment *out, double ratio, double sd_ratio)
{
    out->stenosis_pct = bk_qty_of(100 * fmax(1 - ratio, 0), 100 * sd_ratio, BK_MEASURED);
    out->area_stenosis_pct = bk_qty_of(100 * fmax(1 - ratio * ratio, 0), 200 * ratio * sd_ratio, BK_DERIVED);
}

/* The reference that a person enters takes the place of the fitted one, which stays visible; its taper is kept. */
static void force_reference(worker *w, double v_mld)
{
    bk_segment *out = w->out;
    const bk_qty forced = bk_corrections_reference(w->in->corrections, w->in->limb_index);
    if (!bk_has(forced))
        return;
    const double scale = forced.value / out->reference_mm.value, ratio = out->mld_mm.value / forced.value;
    const double sd = isfinite(forced.sd) ? forced.sd : 0;
    w->line.at_start *= scale;
    w->line.slope *= scale;
    for (size_t i = 0; i < w->n; i++)
        out->reference_at_mm[i] *= scale;
    out->reference_fitted_mm = out->reference_mm;
    out->reference_mm = bk_qty_of(forced.value, sd, forced.origin);
    fill_ratio(out, ratio, sqrt(v_mld + ratio * ratio * sd * sd) / forced.value);
}

/* Nothing goes through: no uncertainty about that, only about where it stops. */
static void close_lumen(bk_segment *out)
{
    out->occluded = out->stump = true;
    out->mld_mm = bk_qty_of(0, NAN, BK_MEASURED);
    out->stenosis_pct = bk_qty_of(100, NAN, BK_MEASURED);
    out->area_stenosis_pct = bk_qty_of(100, NAN, BK_DERIVED);
}

/* MLD, reference there and stenosis, with the covariance between the first two. */
static bk_status fill_stenosis(worker *w, bk_arena *arena, bk_err *err)
{
    bk_segment *out = w->out;
    double *of_mld = BK_NEW(arena, w->n, double, err), *of_ref = BK_NEW(arena, w->n, double, err);
    double *of_both = BK_NEW(arena, w->n, double, err);
    if (!of_mld || !of_ref || !of_both)
        return err ? err->status : BK_E_LIMIT;
    const double at = out->mld_position_mm - out->position_mm[0];
    const double count = (double)(w->mld_to - w->mld_from + 1);
    for (size_t i = 0; i < w->n; i++) {
        of_mld[i] = i >= w->mld_from && i <= w->mld_to ? 1 / count : 0;
        of_ref[i] = w->line.gradient[0][i] + at * w->line.gradient[1][i];
        of_both[i] = of_mld[i] + of_ref[i];
    }
    const double v_mld = variance_of(w, of_mld, arena, err), v_fit = variance_of(w, of_ref, arena, err);
    const double covariance = 0.5 * (variance_of(w, of_both, arena, err) - v_mld - v_fit);
    const double *c = w->line.covariance;
    const double v_ref = fmax(v_fit, w->in->shared_mm * (c[0] + 2 * at * c[1] + at * at * c[2])); /* c counts one reading a mm */
    const double mld = out->mld_mm.value, ref = bk_reference_at(&w->line, at);
    const double ratio = mld / ref;
    const double v_ratio = (v_mld + ratio * ratio * v_ref - 2 * ratio * covariance) / (ref * ref);
    const double sd_ratio = sqrt(fmax(v_ratio, 0));
    out->mld_mm.sd = sqrt(v_mld);
    out->reference_mm = bk_qty_of(ref, sqrt(v_ref), BK_MEASURED);
    fill_ratio(out, ratio, sd_ratio);
    out->reference_fitted_mm = bk_qty_absent();
    force_reference(w, v_mld);
    if (w->in->occluded)
        close_lumen(out);
    return BK_OK;
}

/* Walk from the MLD until the lumen is back at the reference; step is -1 or +1. Returns the position. */
static double lesion_end(const worker *w, int step)
{
    const bk_segment *out = w->out;
    const bk_lesion_curve curve = {out->position_mm, out->diameter_mm, out->reference_at_mm, NAN, w->excluded, w->n};
    return bk_lesion_end(&curve, (w->mld_from + w->mld_to) / 2, step);
}

/* How far the crossing moves for one SD of diameter: SD over the local slope, at least one step. */
static double end_sd(const worker *w, double position_mm)
{
    const ptrdiff_t i = lround((position_mm - w->out->position_mm[0]) / w->step_mm);
    const ptrdiff_t reach = (ptrdiff_t)fmax(0.5 / w->step_mm, 1), last = (ptrdiff_t)w->n - 1;
    const ptrdiff_t a = i - reach < 0 ? 0 : i - reach, b = i + reach > last ? last : i + reach;
    const double slope = fabs(w->out->diameter_mm[b] - w->out->diameter_mm[a]) / (fmax((double)(b - a), 1) * w->step_mm);
    const double sd = w->out->sd_mm[i < 0 ? 0 : i > last ? last : i];
    return fmax(sd / fmax(slope, 0.05), w->step_mm);
}

static void fill_lesion(worker *w)
{
    bk_segment *out = w->out;
    out->lesion_from_mm = out->lesion_to_mm = NAN;
    out->lesion_length_mm = bk_qty_absent();
    if (out->occluded) { /* its far end is not seen here */
        out->lesion_from_mm = lesion_end(w, -1);
        return;
    }
    if (out->stenosis_pct.value < LESION_LEAST_PCT)
        return;
    out->lesion_from_mm = lesion_end(w, -1);
    out->lesion_to_mm = lesion_end(w, 1);
    const double a = end_sd(w, out->lesion_from_mm), b = end_sd(w, out->lesion_to_mm);
    out->lesion_length_mm = bk_qty_of(out->lesion_to_mm - out->lesion_from_mm, sqrt(a * a + b * b), BK_PROJECTED);
}

/* Samples right at the ostium feel the flare of the branching; they say nothing about the healthy tube. */
static bk_status fit_reference(worker *w, bk_arena *arena, bk_err *err)
{
    bool *usable = BK_NEW(arena, w->n, bool, err);
    double *sd = BK_NEW_RAW(arena, w->n, double, err); /* a stretch that the model misses must not pass for healthy by it */
    if (!usable || !sd)
        return err ? err->status : BK_E_LIMIT;
    size_t count = 0;
    for (size_t i = 0; i < w->n; i++) {
        usable[i] = (double)i * w->step_mm >= 1 && !w->excluded[i];
        count += usable[i];
    }
    for (size_t i = 0; count < 16 && i < w->n; i++) /* little is left: the ostium as well */
        usable[i] = !w->excluded[i];
    size_t left = 0;
    for (size_t i = 0; i < w->n; i++)
        left += usable[i];
    if (left < 8 && left < w->n)
        return bk_fail(err, bk_corrections_blame(w->in->corrections), "exclude: %.1f mm of the %s limb are left, 8 samples or more were expected",
                       (double)left * w->step_mm, bk_limb_name(w->in->limb_index));
    for (size_t i = 0; i < w->n; i++)
        sd[i] = seen_sd(w, i);
    bk_status status = bk_reference_fit(w->out->diameter_mm, sd, usable, w->n, w->step_mm, arena, &w->line, err);
    for (size_t i = 0; status == BK_OK && i < w->n; i++)
        w->out->reference_at_mm[i] = bk_reference_at(&w->line, (double)i * w->step_mm);
    return status;
}

static bk_status note_corrections(worker *w, bk_arena *arena, bk_err *err)
{
    w->excluded = BK_NEW(arena, w->n, bool, err);
    if (!w->excluded)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < w->n; i++)
        w->excluded[i] = bk_corrections_excluded(w->in->corrections, w->in->limb_index, w->out->position_mm[i]);
    if (!w->in->drawn)
        return BK_OK;
    w->out->drawn = BK_NEW(arena, w->n, bool, err);
    if (!w->out->drawn)
        return err ? err->status : BK_E_LIMIT;
    memcpy(w->out->drawn, w->in->drawn + w->first, w->n * sizeof *w->out->drawn);
    return BK_OK;
}

bk_status bk_segment_measure(const bk_segment_input *input, bk_arena *arena, bk_segment *out, bk_reference *reference,
                             bk_hidden_mld *hidden, bk_err *err)
{
    worker w = {.in = input, .out = out, .step_mm = input->limb->step_px * input->mm_per_px};
    memset(out, 0, sizeof *out);
    out->refill_mm = NAN;
    *hidden = (bk_hidden_mld){bk_qty_absent(), NAN};
    const double before = input->ostium_px - input->origin_px;
    w.first = before > 0 ? (size_t)ceil(before / input->limb->step_px) : 0;
    if (w.first + 10 > input->limb->n)
        return bk_fail(err, BK_E_NOTHING, "a limb ends %.1f mm beyond the core, a longer one was expected",
                       input->limb->n > w.first ? (double)(input->limb->n - w.first) * w.step_mm : 0.0);
    w.n = input->limb->n - w.first;
    bk_status status = fill_profile(&w, arena, err);
    if (status == BK_OK)
        status = note_corrections(&w, arena, err);
    if (status == BK_OK)
        status = fit_reference(&w, arena, err);
    if (status == BK_OK)
        w.sd_limit = trusted_sd(&w, arena, err);
    if (status == BK_OK)
        status = find_trusted(&w, w.sd_limit, arena, err);
    if (status == BK_OK)
        status = find_mld(&w, hidden, err);
    if (status == BK_OK)
        status = mend_mld(&w, arena, err);
    if (status == BK_OK)
        status = fill_stenosis(&w, arena, err);
    if (status != BK_OK)
        return status;
    fill_lesion(&w);
    out->healthy_mm = w.line.healthy_mm;
    out->ostium_mm = input->ostium_px * input->mm_per_px;
    out->ostial_mm = bk_qty_of(out->diameter_mm[0], out->sd_mm[0], BK_MEASURED);
    out->length_mm = bk_qty_of(out->position_mm[w.n - 1], NAN, BK_PROJECTED);
    if (reference)
        *reference = w.line;
    return status;
}

void bk_segment_absent(double ostium_mm, double stop_mm, bk_segment *out)
{
    memset(out, 0, sizeof *out);
    close_lumen(out);
    out->stump = false;
    out->reference_mm = out->reference_by_law_mm = out->reference_fitted_mm = bk_qty_absent();
    out->lesion_length_mm = out->ostial_mm = bk_qty_absent();
    out->ostium_mm = ostium_mm;
    out->lesion_from_mm = out->mld_position_mm = stop_mm;
    out->lesion_to_mm = out->refill_mm = NAN;
    out->length_mm = bk_qty_of(stop_mm, NAN, BK_PROJECTED);
}
