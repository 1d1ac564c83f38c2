/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the derivatives of a blurred round lumen read, by quadrature. With x' = R sin(t) the chord 2R cos(t) makes
   the integrand smooth and periodic, so the plain trapezoid sum converges fast. */
#include <math.h>

#include "core/image/edges.h"

#define NODES 48
#define ROUNDS 60 /* seven are enough */

/* Nodes of the quadrature: sin(t), and the weight cos(t)^2. */
typedef struct quadrature {
    double sine[NODES], weight[NODES];
} quadrature;

static void quadrature_fill(quadrature *q)
{
    for (int i = 0; i < NODES; i++) {
        const double t = 3.14159265358979323846 * ((i + 0.5) / NODES - 0.5);
        q->sine[i] = sin(t);
        q->weight[i] = cos(t) * cos(t);
    }
}

/* k-th derivative (2 or 3) of the blurred chord profile at x, up to a positive factor. */
static double profile_derivative(const quadrature *q, double x, double radius, int k)
{
    double sum = 0;
    for (int i = 0; i < NODES; i++) {
        const double u = x - radius * q->sine[i];
        if (fabs(u) < 7) /* the Gaussian is nothing beyond */
            sum += q->weight[i] * exp(-0.5 * u * u) * (k == 2 ? u * u - 1 : 3 * u - u * u * u);
    }
    return sum;
}

/* Where the derivative changes sign between low and high: false position, of an end that stays twice half its value (the
   Illinois rule), which for this smooth function takes a third of the rounds that halving takes. */
static double crossing(const quadrature *q, double low, double high, double radius, int k)
{
    double at_low = profile_derivative(q, low, radius, k), at_high = profile_derivative(q, high, radius, k), x = low, before = high;
    for (int stayed = 0, round = 0; fabs(x - before) > 1e-7 && round < ROUNDS; round++) {
        before = x;
        x = (low * at_high - high * at_low) / (at_high - at_low);
        const double here = profile_derivative(q, x, radius, k);
        if ((here > 0) == (at_low > 0)) {
            low = x;
            at_low = here;
            at_high *= stayed == 1 ? 0.5 : 1;
            stayed = 1;
        } else {
            high = x;
            at_high = here;
            at_low *= stayed == -1 ? 0.5 : 1;
            stayed = -1;
        }
    }
    return x;
}

/* The steepest point lies within 1.5 of the lumen's edge, the outer bend within 3 beyond it. */
static void widths(const quadrature *q, double d, double *first, double *second)
{
    const double radius = 0.5 * d;
    const double steepest = crossing(q, fmax(radius - 1.5, 0), radius + 1.5, radius, 2);
    *first = 2 * steepest;
    *second = 2 * crossing(q, steepest, steepest + 3, radius, 3);
}

void bk_edge_widths(double d, double *first, double *second)
{
    quadrature q;
    quadrature_fill(&q);
    widths(&q, d, first, second);
}

/* Diameter [sigma] of an entry: dense where the bias bends. */
static double diameter_of(int i)
{
    return 0.2 * (i + 1) * (1 + 0.02 * i);
}

void bk_edge_table_fill(bk_edge_table *table)
{
    quadrature q;
    quadrature_fill(&q);
    for (int i = 0; i < BK_EDGE_TABLE_N; i++) {
        double first, second;
        widths(&q, diameter_of(i), &first, &second);
        table->read[i] = 0.5 * (first + second);
    }
}

double bk_edge_unblur(const bk_edge_table *table, double width_px, double sigma_px)
{
    const double width = width_px / sigma_px;
    if (width <= table->read[0])
        return 0;
    for (int i = 1; i < BK_EDGE_TABLE_N; i++)
        if (width < table->read[i]) {
            const double t = (width - table->read[i - 1]) / (table->read[i] - table->read[i - 1]);
            return sigma_px * (diameter_of(i - 1) + t * (diameter_of(i) - diameter_of(i - 1)));
        }
    /* wide against the blur the bias goes to its limit as 1/d does; two rounds find the d that reads so wide */
    const double d1 = diameter_of(BK_EDGE_TABLE_N - 1), d2 = diameter_of(BK_EDGE_TABLE_N / 2);
    const double bias = table->read[BK_EDGE_TABLE_N - 1] - d1, before = table->read[BK_EDGE_TABLE_N / 2] - d2;
    const double rate = (before - bias) / (1 / d2 - 1 / d1);
    double d = width - bias;
    for (int i = 0; i < 2; i++)
        d = width - bias - rate * (1 / d - 1 / d1);
    return sigma_px * d;
}
