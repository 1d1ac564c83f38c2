/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/minimum.h"

#include <math.h>
#include <string.h>

#include "base/random.h"

#define PAIRS 32
#define SEED 20261125U
#define NOISE_SDS 2.0 /* a distance from the healthy line of so many SD is as likely lesion as noise */

typedef struct worker {
    const bk_minimum_input *in;
    size_t knots;
    double *factor; /* knots x knots, lower */
    double *smooth; /* n: like the true curve [mm] */
    double *drawn;  /* knots */
    double *error;  /* n [mm] */
} worker;

static bool factor_covariance(const double *covariance, size_t n, double *l)
{
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j <= i; j++) {
            double sum = covariance[i * n + j] * (i == j ? 1 + 1e-9 : 1);
            for (size_t k = 0; k < j; k++)
                sum -= l[i * n + k] * l[j * n + k];
            if (i == j && !(sum > 0))
                return false;
            l[i * n + j] = i == j ? sqrt(sum) : sum / l[j * n + j];
        }
    return true;
}

static void draw_like_true(worker *w)
{
    for (size_t i = 0; i < w->in->n; i++) {
        const double away = w->in->expected_mm[i] - w->in->value_mm[i];
        const double sds = away / fmax(NOISE_SDS * w->in->sd_mm[i], 1e-6);
        w->smooth[i] = w->in->value_mm[i] + away / (1 + sds * sds); /* a sharper change would amplify noise at the minimum */
    }
}

/* Errors by noise alone: what the model misses is no ripple that the least of many means could pick. */
static void draw_error(worker *w, bk_random *random)
{
    const size_t m = w->knots;
    double *z = w->drawn;
    for (size_t k = 0; k < m; k++)
        z[k] = bk_random_normal(random);
    for (size_t i = m; i-- > 0;) {
        double sum = 0;
        for (size_t k = 0; k <= i; k++)
            sum += w->factor[i * m + k] * z[k];
        z[i] = sum;
    }
    for (size_t i = 0; i < w->in->n; i++) {
        const double *row = w->in->limb->basis + (w->in->first + i) * m;
        double sum = 0;
        size_t k = 0;
        while (k < m && row[k] == 0)
            k++;
        for (size_t end = k + 4 < m ? k + 4 : m; k < end; k++)
            sum += row[k] * z[k];
        const double misfit = w->in->limb->misfit ? w->in->limb->misfit[w->in->first + i] : 1;
        w->error[i] = sum * w->in->mm_per_px / misfit;
    }
}

/* Least mean of the smooth curve plus sign times the error; infinite when no stretch is allowed. */
static double least_mean(const worker *w, double sign)
{
    const size_t wide = 2 * w->in->half + 1;
    double least = INFINITY, sum = 0;
    size_t barred = 0;
    for (size_t i = 0; i < w->in->n; i++) {
        sum += w->smooth[i] + sign * w->error[i];
        barred += !w->in->allowed[i];
        if (i >= wide) {
            sum -= w->smooth[i - wide] + sign * w->error[i - wide];
            barred -= !w->in->allowed[i - wide];
        }
        if (i + 1 >= wide && barred == 0 && sum / (double)wide < least)
            least = sum / (double)wide;
    }
    return least;
}

bk_status bk_minimum_bias(const bk_minimum_input *input, bk_arena *arena, double *out_mm, bk_err *err)
{
    const size_t m = input->limb->knots_n;
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    worker w = {.in = input, .knots = m};
    w.factor = BK_NEW(arena, m * m, double, err);
    w.smooth = BK_NEW(arena, input->n, double, err);
    w.drawn = BK_NEW(arena, m, double, err);
    w.error = BK_NEW(arena, input->n, double, err);
    *out_mm = 0;
    if (!w.factor || !w.smooth || !w.drawn || !w.error)
        return err ? err->status : BK_E_LIMIT;
    draw_like_true(&w);
    const double without = least_mean(&w, 0);
    if (isfinite(without) && factor_covariance(input->limb->covariance, m, w.factor)) {
        bk_random random;
        bk_random_seed(&random, SEED);
        double sum = 0;
        for (int pair = 0; pair < PAIRS; pair++) {
            draw_error(&w, &random);
            sum += least_mean(&w, -1) + least_mean(&w, 1) - 2 * without;
        }
        *out_mm = sum / (2 * PAIRS);
    }
    bk_arena_rewind(arena, mark);
    return BK_OK;
}
