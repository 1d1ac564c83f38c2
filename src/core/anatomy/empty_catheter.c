/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/empty_catheter.h"

#include <math.h>
#include <string.h>

#include "core/image/linear.h"
#include "core/image/smooth.h"

#define STEP_PX 0.5
#define INDEPENDENT 0.5    /* of the samples: neighbours share pixels */
#define GRID 1.01          /* ratio of neighbouring radii */
#define OUTER 28           /* steps to either side of the rough radius */
#define BORE_NEAR 8        /* steps from the outer wall to the widest bore, 0.92 of it */
#define BORE_FAR 42        /* and to the narrowest, 0.66 */
#define BORE_STEP 2
#define RADII (2 * OUTER + 1 + BORE_FAR)
#define BLURS 6
#define NODES 21           /* of the blur, to either side */
#define TERMS 4            /* background 1, x, x^2 and the walls */
#define BLOCKS 6           /* of the shaft, whose means tell the noise */

typedef struct profile {
    size_t n;
    double *x, *y; /* px from the axis; mean log intensity */
    double noise;  /* variance of the mean */
} profile;

static void add_lines(const bk_image *image, const bk_curve *axis, const bk_pt_px *normal, size_t first, size_t end, const profile *p,
                      double *to)
{
    memset(to, 0, p->n * sizeof *to);
    for (size_t i = first; i < end; i++)
        for (size_t j = 0; j < p->n; j++)
            to[j] += bk_image_sample(image, axis->points[i].x + p->x[j] * normal[i].x, axis->points[i].y + p->x[j] * normal[i].y) /
                     (double)(end - first);
}

/* Mean across the shaft; its noise from how the means of pieces of the shaft differ, their own level apart. */
static bk_status straighten(const bk_image *image, const bk_curve *axis, double rough_px, bk_arena *arena, profile *out, bk_err *err)
{
    const size_t half = (size_t)ceil((0.95 * rough_px + 4) / STEP_PX);
    *out = (profile){.n = 2 * half + 1};
    out->x = BK_NEW(arena, out->n, double, err);
    out->y = BK_NEW(arena, out->n, double, err);
    double *block = BK_NEW(arena, out->n, double, err);
    bk_pt_px *normal = BK_NEW(arena, axis->n, bk_pt_px, err);
    if (!out->x || !out->y || !block || !normal)
        return err ? err->status : BK_E_LIMIT;
    bk_curve_normals(axis, normal);
    for (size_t j = 0; j < out->n; j++)
        out->x[j] = ((double)j - (double)half) * STEP_PX;
    add_lines(image, axis, normal, 0, axis->n, out, out->y);
    for (size_t b = 0; b < BLOCKS; b++) {
        add_lines(image, axis, normal, b * axis->n / BLOCKS, (b + 1) * axis->n / BLOCKS, out, block);
        double level = 0;
        for (size_t j = 0; j < out->n; j++)
            level += (block[j] - out->y[j]) / (double)out->n;
        for (size_t j = 0; j < out->n; j++)
            out->noise += pow(block[j] - out->y[j] - level, 2) / ((double)out->n * BLOCKS * (BLOCKS - 1));
    }
    return BK_OK;
}

/* Chord of a circle of that radius under the blur, at every sample of the profile. */
static void blurred_chord(const profile *p, double radius, double blur, double *to)
{
    double weight[2 * NODES + 1], total = 0;
    for (int k = -NODES; k <= NODES; k++)
        total += weight[k + NODES] = exp(-0.5 * pow(3.5 * k / NODES, 2));
    for (size_t j = 0; j < p->n; j++) {
        to[j] = 0;
        for (int k = -NODES; k <= NODES; k++) {
            const double x = p->x[j] + 3.5 * blur * k / NODES;
            to[j] += weight[k + NODES] / total * 2 * sqrt(fmax(radius * radius - x * x, 0));
        }
    }
}

/* Sum of squares that background and walls leave, HUGE_VAL when the walls would have to be brighter than what is around. */
static double misfit(const profile *p, const double *outer, const double *bore)
{
    double matrix[TERMS * TERMS] = {0}, right[TERMS] = {0}, sum = 0;
    const double scale = p->x[p->n - 1];
    for (int pass = 0; pass < 2; pass++) {
        for (size_t j = 0; j < p->n; j++) {
            const double u = p->x[j] / scale, term[TERMS] = {1, u, u * u, bore[j] - outer[j]};
            double rest = p->y[j];
            for (size_t a = 0; a < TERMS; a++) {
                if (pass) {
                    rest -= right[a] * term[a];
                    continue;
                }
                right[a] += term[a] * p->y[j];
                for (size_t b = 0; b < TERMS; b++)
                    matrix[a * TERMS + b] += term[a] * term[b];
            }
            sum += pass ? rest * rest : 0;
        }
        if (!pass && !bk_solve_positive(matrix, TERMS, right))
            return HUGE_VAL;
    }
    return right[TERMS - 1] > 0 ? sum : HUGE_VAL;
}

typedef struct grid {
    double misfit[BLURS][2 * OUTER + 1][(BORE_FAR - BORE_NEAR) / BORE_STEP + 1];
    double least;
} grid;

static void fill_grid(const profile *p, double rough_px, double psf_px, double *chord, grid *out)
{
    static const double blurs[BLURS] = {0.7, 0.85, 1.0, 1.2, 1.45, 1.75};
    out->least = HUGE_VAL;
    for (int s = 0; s < BLURS; s++) {
        for (int r = 0; r < RADII; r++)
            blurred_chord(p, 0.5 * rough_px * pow(GRID, r - OUTER - BORE_FAR), blurs[s] * psf_px, chord + (size_t)r * p->n);
        for (int k = 0; k <= 2 * OUTER; k++)
            for (int b = BORE_NEAR; b <= BORE_FAR; b += BORE_STEP) {
                const double *outer = chord + (size_t)(k + BORE_FAR) * p->n, *bore = chord + (size_t)(k + BORE_FAR - b) * p->n;
                double *m = &out->misfit[s][k][(b - BORE_NEAR) / BORE_STEP];
                *m = misfit(p, outer, bore);
                out->least = fmin(out->least, *m);
            }
    }
}

bk_status bk_empty_catheter_width(const bk_image *log_image, const bk_curve *axis, double rough_px, double psf_px,
                                  bk_arena *arena, double *width_px, double *sd_px, bk_err *err)
{
    profile p;
    bk_status status = straighten(log_image, axis, rough_px, arena, &p, err);
    if (status != BK_OK)
        return status;
    grid *g = BK_NEW(arena, 1, grid, err);
    double *chord = BK_NEW(arena, RADII * p.n, double, err);
    if (!g || !chord)
        return err ? err->status : BK_E_LIMIT;
    fill_grid(&p, rough_px, psf_px, chord, g);
    if (!isfinite(g->least))
        return bk_fail(err, BK_E_NOTHING, "no pair of dark walls was found between the two points");
    const double noise = fmax(g->least / (double)p.n, p.noise);
    double total = 0, first = 0, second = 0;
    for (int s = 0; s < BLURS; s++)
        for (int k = 0; k <= 2 * OUTER; k++)
            for (int b = 0; b <= (BORE_FAR - BORE_NEAR) / BORE_STEP; b++) {
                const double weight = exp(-0.5 * INDEPENDENT * (g->misfit[s][k][b] - g->least) / noise), at = k - OUTER;
                total += weight;
                first += weight * at;
                second += weight * at * at;
            }
    const double mean = first / total, variance = fmax(second / total - mean * mean, 1.0 / 12);
    *width_px = rough_px * pow(GRID, mean);
    *sd_px = *width_px * log(GRID) * sqrt(variance);
    return BK_OK;
}
