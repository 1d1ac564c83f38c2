/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/reference.h"

#include <math.h>
#include <string.h>

#include "base/order.h"

#define ROUNDS 40
#define SLOPE_PRIOR_MM_MM 0.012
#define SCATTER_FLOOR_MM 0.02
#define SCATTER_MOST 0.06 /* of the diameter: healthy vessel seldom scatters more; a lesion that fills most of a limb would */
#define TUKEY 4.685
#define SETTLED 1e-6 /* of the diameter: a scatter that moves by less */

double bk_reference_at(const bk_reference *reference, double s_mm)
{
    return reference->at_start + reference->slope * s_mm;
}

typedef struct fitter {
    const double *diameter, *sd;
    const bool *usable;
    size_t n;
    double step;
    double *weight, *scratch;
    double level, scatter; /* typical diameter, and scatter about the line */
    double clear_sd;       /* of a sample that is seen clearly: lower quartile */
    double normal[3];      /* weighted 1, s, s^2 with the prior */
} fitter;

static bool is_usable(const fitter *f, size_t i)
{
    return !f->usable || f->usable[i];
}

static double quantile_of(const fitter *f, const double *value, double q, size_t *count)
{
    size_t m = 0;
    for (size_t i = 0; i < f->n; i++)
        if (is_usable(f, i))
            f->scratch[m++] = value[i];
    bk_sort_doubles(f->scratch, m);
    *count = m;
    return m ? f->scratch[(size_t)(q * (double)(m - 1))] : 0;
}

static void solve_line(fitter *f, bk_reference *out)
{
    double s0 = 0, s1 = 0, s2 = 0, r0 = 0, r1 = 0;
    for (size_t i = 0; i < f->n; i++) {
        const double s = (double)i * f->step, w = f->weight[i];
        s0 += w;
        s1 += w * s;
        s2 += w * s * s;
        r0 += w * f->diameter[i];
        r1 += w * s * f->diameter[i];
    }
    /* the prior counts like one independent reading in each mm of vessel with the present scatter */
    const double prior = f->scatter * f->scatter / (SLOPE_PRIOR_MM_MM * SLOPE_PRIOR_MM_MM) / f->step;
    s2 += prior;
    const double det = s0 * s2 - s1 * s1;
    out->at_start = (s2 * r0 - s1 * r1) / det;
    out->slope = (s0 * r1 - s1 * r0) / det;
    f->normal[0] = s0;
    f->normal[1] = s1;
    f->normal[2] = s2;
}

/* Scatter of what lies at or above the line: disease does not reach there. */
static double upper_scatter(fitter *f, const bk_reference *line)
{
    size_t m = 0;
    for (size_t i = 0; i < f->n; i++) {
        const double r = f->diameter[i] - bk_reference_at(line, (double)i * f->step);
        if (is_usable(f, i) && r >= -0.5 * f->scatter)
            f->scratch[m++] = fabs(r);
    }
    bk_sort_doubles(f->scratch, m);
    return fmax(m ? 1.4826 * f->scratch[m / 2] : 0, fmax(SCATTER_FLOOR_MM, 0.008 * f->level));
}

static double tukey(double u)
{
    return fabs(u) < 1 ? (1 - u * u) * (1 - u * u) : 0;
}

/* Scatter of a sample about the line: that of the lumen, and its own. */
static double sample_sd(const fitter *f, double sd)
{
    return sqrt(f->scatter * f->scatter + sd * sd);
}

static void reweigh(fitter *f, const bk_reference *line)
{
    for (size_t i = 0; i < f->n; i++) {
        const double r = f->diameter[i] - bk_reference_at(line, (double)i * f->step);
        const double sd = sample_sd(f, f->sd[i]);
        const double reach = r < 0 ? 0.6 * TUKEY * sd : TUKEY * sd;
        const double quality = f->scatter * f->scatter / (sd * sd);
        f->weight[i] = is_usable(f, i) ? tukey(r / reach) * quality : 0;
    }
}

/* Vessel that the line rests on. How clearly a limb is seen as a whole is not a matter of health, that one stretch of it is
   seen worse than the rest is. */
static double healthy_mm(const fitter *f)
{
    const double clear = sample_sd(f, f->clear_sd) / f->scatter;
    double total = 0;
    for (size_t i = 0; i < f->n; i++) {
        const double sds = sample_sd(f, f->sd[i]) / f->scatter;
        total += f->weight[i] * fmin(clear * clear, sds * sds);
    }
    return total * f->step;
}

static bk_status finish(const fitter *f, bk_arena *arena, bk_reference *out, bk_err *err)
{
    const double s0 = f->normal[0], s1 = f->normal[1], s2 = f->normal[2], det = s0 * s2 - s1 * s1;
    for (int k = 0; k < 2; k++) {
        out->gradient[k] = BK_NEW(arena, f->n, double, err);
        if (!out->gradient[k])
            return err ? err->status : BK_E_LIMIT;
    }
    for (size_t i = 0; i < f->n; i++) {
        const double s = (double)i * f->step;
        out->gradient[0][i] = f->weight[i] * (s2 - s1 * s) / det;
        out->gradient[1][i] = f->weight[i] * (s0 * s - s1) / det;
    }
    /* scatter is shared over about 1 mm: one independent reading each mm */
    const double variance = f->scatter * f->scatter / f->step;
    out->covariance[0] = variance * s2 / det;
    out->covariance[1] = -variance * s1 / det;
    out->covariance[2] = variance * s0 / det;
    out->healthy_mm = healthy_mm(f);
    return BK_OK;
}

bk_status bk_reference_fit(const double *diameter_mm, const double *sd_mm, const bool *usable, size_t n,
                           double step_mm, bk_arena *arena, bk_reference *out, bk_err *err)
{
    fitter f = {.diameter = diameter_mm, .sd = sd_mm, .usable = usable, .n = n, .step = step_mm};
    memset(out, 0, sizeof *out);
    f.weight = BK_NEW(arena, n, double, err);
    f.scratch = BK_NEW(arena, n, double, err);
    if (!f.weight || !f.scratch)
        return err ? err->status : BK_E_LIMIT;
    size_t count;
    f.level = quantile_of(&f, diameter_mm, 0.75, &count);
    f.clear_sd = quantile_of(&f, sd_mm, 0.25, &count);
    if (count < 8)
        return bk_fail(err, BK_E_NOTHING, "%zu usable diameters were found, 8 were expected for a reference", count);
    /* start from a level line at the upper quartile and a generous scatter, then tighten */
    out->at_start = f.level;
    f.scatter = SCATTER_MOST * f.level;
    for (int round = 0; round < ROUNDS; round++) {
        reweigh(&f, out);
        solve_line(&f, out);
        const double before = f.scatter;
        const double scatter = 0.5 * (before + upper_scatter(&f, out)); /* half-way: a full step may swing for ever */
        f.scatter = fmin(round < 4 ? fmax(scatter, 0.03 * f.level) : scatter, SCATTER_MOST * f.level);
        if (round > 4 && fabs(f.scatter - before) < SETTLED * f.level)
            break;
    }
    reweigh(&f, out); /* weights, line and scatter that belong together */
    solve_line(&f, out);
    return finish(&f, arena, out, err);
}
