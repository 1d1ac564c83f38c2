/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/flow/profile.h"

#include <math.h>
#include <stdbool.h>

#define PI 3.14159265358979323846
#define PARABOLA (1.0 / 3) /* excess of the parabola */
#define LEAST 1e-4         /* excess of the flattest profile that is told from a plug */

bk_profile bk_profile_developed(double flow)
{
    return (bk_profile){.flow = flow, .excess = PARABOLA};
}

/* Rates of one profile: carried (by d ln A), changed (by 2 pi mu/(rho Q) dx), shear at the wall (4: parabola). */
typedef struct rates {
    double carried, changed, shear;
} rates;

/* slope: of a receding wall. A layer at the wall is left behind by one of 1 in 5, a jet goes unchanged at 45 degrees;
   both were chosen with validation/openfoam in sight. */
static inline rates rates_of(double e, double slope)
{
    rates out;
    // u ~ (1 - r^2)^k has this beta; its energy factor is (k + 1)^3/(3 k + 1)
    const double beta = 1 + e, k = e + sqrt(e * e + e), k1 = k + 1, cubic = 3 * k + 1, square = 2 * k + 1;
    const double gap = 1 / (3 * k1 * square * square - 2 * cubic * cubic); // of d(energy)/2 - d(momentum)
    out.carried = 2 * cubic * (k1 * k1 * k1 - beta * cubic) * gap;
    if (e < PARABOLA) {
        // Blasius: momentum 0.70/e and growth 0.557/e for the plug; none is left to grow at the parabola
        const double thin = 1 / (e * (1 - e));
        out.shear = 0.70 * (1 - e) * thin + 1.9;
        out.changed = 1.113 * (1 + e) * (1 - 3 * e) * cubic * cubic * thin * gap;
        out.carried += fmin(1, 5 * slope) * (beta - out.carried);
        return out;
    }
    // jet and counterflow: read from computed profiles, one curve for all of them
    const double above = e - PARABOLA, dissipation = 4 + 1.5 * (beta * beta - 16.0 / 9);
    out.shear = 4 - 5.9 * above / (1 + 0.327 * above);
    out.changed = (out.shear - dissipation) / (1 + 0.55 * above);
    out.carried += fmin(1, slope) * (beta - out.carried);
    return out;
}

/* One short step, midpoint rule in the square of the excess: the plug's layer grows evenly in it. */
static inline void step(bk_profile *p, double unit, double widening, double friction, double slope)
{
    const double e = p->excess;
    const rates a = rates_of(e, slope);
    const double half = e * e + e * (a.carried * widening + a.changed * friction);
    const double middle = half > LEAST * LEAST ? sqrt(half) : LEAST;
    const rates b = rates_of(middle, slope);
    const double next = e * e + 2 * middle * (b.carried * widening + b.changed * friction);
    p->excess = next > LEAST * LEAST ? sqrt(next) : LEAST;
    p->drop += unit * (p->excess - e - (1 + middle) * widening + b.shear * friction);
}

static bool is_settled(const bk_profile *p)
{
    return fabs(p->excess - PARABOLA) < 1e-3;
}

void bk_profile_pass(bk_profile *profile, size_t n, bk_blood blood, double from, double to, double length)
{
    const double per_flow = 2 * PI * blood.viscosity_pa_s / blood.density_kg_m3 * length;
    const double slope = to <= from ? 0 : length > 0 ? (to - from) / 2 / length : 1;
    const double change = 2 * fabs(to - from) / fmin(from, to); // of ln A, or more
    const bool straight = change < 1e-6;
    double steps = change / 0.1;
    for (size_t k = 0; k < n; k++)
        if (!straight || !is_settled(&profile[k]))
            steps = fmax(steps, per_flow / profile[k].flow / 0.06);
    const int count = (int)ceil(fmax(1, steps));
    for (int i = 0; i < count; i++) {
        const double left = from + (to - from) * i / count, right = from + (to - from) * (i + 1.0) / count;
        const double area = bk_circle((left + right) / 2), density = blood.density_kg_m3 / (area * area);
        const double z = (right - left) / (right + left), widening = 4 * z * (1 + z * z / 3); // 2 ln(right/left)
        for (size_t k = 0; k < n; k++) {
            bk_profile *const p = &profile[k];
            const double unit = density * p->flow * p->flow, friction = per_flow / p->flow / count;
            if (straight && is_settled(p))
                p->drop += unit * 4 * friction;
            else
                step(p, unit, widening, friction, slope);
        }
    }
}
