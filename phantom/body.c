/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "phantom/body.h"

#include <math.h>

#include "phantom/vec.h"

#define WATER_PER_MM                                                                                         \
    0.0227 /* 50 keV, NIST via the science notes (measure.md section 12; value from memory there) */
#define HALF_FIELD_MM 55.0
#define VERTEBRA_MM 27.0 /* a thoracic vertebra with its disc; common practice, no source */

/* Strengths are chosen by eye to look like an angiogram; no source gives them. */
void ph_body_draw(ph_body *body, bk_random *random)
{
    body->water_mm = bk_random_between(random, 200, 280);
    for (int i = 0; i < 2; i++)
        body->tilt[i] = bk_random_between(random, -8, 8);
    for (int i = 0; i < 3; i++)
        body->curve[i] = bk_random_between(random, -7, 7);
    for (int i = 0; i < 3; i++)
        body->mottle[i] = (double[]){0.03, 0.012, 0.006}[i] * bk_random_between(random, 0.5, 1.2);
    body->mottle_seed = bk_random_bits(random);
    body->ribs = 3 + (int)(3 * bk_random_unit(random));
    const double between = bk_random_between(random, 22, 32), first = bk_random_between(random, -60, -40);
    const double slope = bk_random_between(random, -0.5, 0.5),
                 bend = bk_random_between(random, -0.004, 0.004);
    for (int i = 0; i < PH_RIBS_MAX; i++) {
        ph_rib *rib = &body->rib[i];
        rib->y_mm = first + between * (i + bk_random_between(random, -0.12, 0.12));
        rib->slope = slope + bk_random_between(random, -0.08, 0.08);
        rib->bend = bend + bk_random_between(random, -0.0008, 0.0008);
        rib->half_mm = bk_random_between(random, 4, 6.5);
        rib->strength = bk_random_between(random, 0.04, 0.12);
    }
    const double hand = bk_random_unit(random) < 0.5 ? -1 : 1;
    body->spine =
        (ph_edge){bk_random_unit(random) < 0.5,           hand * bk_random_between(random, 18, 42),
                  bk_random_between(random, -0.15, 0.15), 0,
                  bk_random_between(random, 1, 2.2),      hand * bk_random_between(random, 0.12, 0.35),
                  bk_random_between(random, 0.8, 2),      bk_random_between(random, 0, 2 * PH_PI)};
    body->diaphragm = (ph_edge){bk_random_unit(random) < 0.5,
                                bk_random_between(random, 12, 45),
                                bk_random_between(random, -0.25, 0.25),
                                bk_random_between(random, 0.002, 0.008),
                                bk_random_between(random, 0.5, 1.5),
                                bk_random_between(random, 0.2, 0.5),
                                0,
                                0};
}

static double soft_root(double x)
{
    return sqrt(0.5 * (x + sqrt(x * x + 0.01)));
}

/* A flat tube of bone: the cortex is long where the ray runs along it, near the margins. */
static double rib_attenuation(const ph_rib *rib, double x, double y)
{
    const double slope = rib->slope + 2 * rib->bend * x;
    const double off = (y - rib->y_mm - rib->slope * x - rib->bend * x * x) / sqrt(1 + slope * slope);
    const double p = off / rib->half_mm, q = p / 0.8;
    if (fabs(p) > 2.5)
        return 0;
    const double tail = soft_root(-5.25); /* what is left of the soft root at |p| = 2.5 */
    return rib->strength * 1.8 * (soft_root(1 - p * p) - 0.62 * soft_root(1 - q * q) - 0.38 * tail);
}

static double edge_attenuation(const ph_edge *edge, double across, double along)
{
    if (!edge->present)
        return 0;
    const double x = across - edge->at_mm - edge->slope * along - edge->bend * along * along -
                     edge->wave_mm * sin(2 * PH_PI * along / VERTEBRA_MM + edge->phase);
    const double side = edge->strength < 0 ? -1 : 1;
    return fabs(edge->strength) / (1 + exp(-side * x / edge->soft_mm));
}

/* A repeatable value in -1..1 for each knot of a lattice. */
static double knot(uint64_t seed, int64_t i, int64_t j)
{
    bk_random random;
    bk_random_seed(&random, seed ^ ((uint64_t)(i + 4096) << 32) ^ (uint64_t)(j + 4096));
    return bk_random_between(&random, -1, 1);
}

#define LATTICE 64 /* knots a side: enough for 4 mm cells over 240 mm */

/* Cubic B-spline weights of the four knots around a fraction: smooth to the second derivative. */
static void spline_weights(double f, double w[4])
{
    const double g = 1 - f;
    w[0] = g * g * g / 6;
    w[1] = 2.0 / 3 - f * f * (2 - f) / 2;
    w[2] = 2.0 / 3 - g * g * (2 - g) / 2;
    w[3] = f * f * f / 6;
}

static void add_mottle(const ph_body *body, int octave, int32_t rows, int32_t cols, double mm_per_px,
                       float *out)
{
    static const double cells_mm[3] = {16, 8, 4};
    double knots[LATTICE][LATTICE];
    for (int i = 0; i < LATTICE; i++)
        for (int j = 0; j < LATTICE; j++)
            knots[i][j] = body->mottle[octave] * knot(body->mottle_seed + (uint64_t)octave, i, j);
    const double per_px = mm_per_px / cells_mm[octave];
    for (int32_t r = 0; r < rows; r++) {
        double wr[4], wc[4], line[LATTICE];
        const double y = fmin(r * per_px, LATTICE - 4.001);
        const int iy = (int)y;
        spline_weights(y - iy, wr);
        for (int j = 0; j < LATTICE; j++)
            line[j] = wr[0] * knots[iy][j] + wr[1] * knots[iy + 1][j] + wr[2] * knots[iy + 2][j] +
                      wr[3] * knots[iy + 3][j];
        for (int32_t c = 0; c < cols; c++) {
            const double x = fmin(c * per_px, LATTICE - 4.001);
            const double *p = &line[(int)x];
            spline_weights(x - (int)x, wc);
            out[(size_t)r * (size_t)cols + (size_t)c] +=
                (float)(wc[0] * p[0] + wc[1] * p[1] + wc[2] * p[2] + wc[3] * p[3]);
        }
    }
}

static double tissue(const ph_body *body, double x, double y)
{
    const double u = x / HALF_FIELD_MM, v = y / HALF_FIELD_MM;
    const double mm = body->tilt[0] * u + body->tilt[1] * v + body->curve[0] * u * u +
                      body->curve[1] * u * v + body->curve[2] * v * v;
    return WATER_PER_MM * mm;
}

void ph_body_attenuation(const ph_body *body, int32_t rows, int32_t cols, double mm_per_px, float *out)
{
    for (int32_t r = 0; r < rows; r++)
        for (int32_t c = 0; c < cols; c++) {
            const double x = (c - 0.5 * (cols - 1)) * mm_per_px, y = (r - 0.5 * (rows - 1)) * mm_per_px;
            double a = tissue(body, x, y) + edge_attenuation(&body->spine, x, y) +
                       edge_attenuation(&body->diaphragm, y, x);
            for (int i = 0; i < body->ribs; i++)
                a += rib_attenuation(&body->rib[i], x, y);
            out[(size_t)r * (size_t)cols + (size_t)c] = (float)a;
        }
    for (int octave = 0; octave < 3; octave++)
        add_mottle(body, octave, rows, cols, mm_per_px, out);
}
