/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/flow/laws.h"

#include <math.h>

#define PI 3.14159265358979323846

double bk_circle(double diameter_m)
{
    return PI * diameter_m * diameter_m / 4;
}

double bk_reynolds(bk_blood blood, double diameter_m, double flow)
{
    return 4 * blood.density_kg_m3 * flow / (PI * blood.viscosity_pa_s * diameter_m);
}

double bk_poiseuille(bk_blood blood, double diameter_m, double length_m, double flow)
{
    return 128 * blood.viscosity_pa_s * length_m * flow / (PI * pow(diameter_m, 4));
}

double bk_entrance(bk_blood blood, double length_m, double flow)
{
    return PI * blood.viscosity_pa_s * length_m / (4 * blood.density_kg_m3 * flow);
}

double bk_shah_london(double entrance)
{
    const double root = 3.44 / sqrt(entrance);
    const double friction =
        root + (1.25 / (4 * entrance) + 16 - root) / (1 + 0.00021 / (entrance * entrance));
    return 4 * friction * entrance;
}

/* Both integrals share (1 + 4t + 9t^2 + 4t^3) / (t (3 + 2t)(3 + 2t + t^2)^2). */
static double shared(double t)
{
    const double square = 3 + 2 * t + t * t;
    return (1 + t * (4 + t * (9 + 4 * t))) / (t * (3 + 2 * t) * square * square);
}

void bk_integral_model(double core, double *entrance, double *loss)
{
    // Simpson's rule in log t: the integrands go as 1/t
    enum { STEPS = 200 };
    const double low = log(core), step = -low / STEPS;
    double x = 0, dp = 0;
    for (int i = 0; i <= STEPS; i++) {
        const double t = exp(low + step * i);
        const double weight = i == 0 || i == STEPS ? 1 : i % 2 ? 4 : 2;
        x += weight * t * shared(t) * (1 - t) * (6 + t) / 5;
        dp += weight * t * shared(t);
    }
    *entrance = x * step / 3 / 4;
    *loss = dp * step / 3 * 96 / 5;
}

double bk_integral_loss(double entrance, double *core)
{
    double low = log(1e-9), high = log(1 - 1e-9), x, loss;
    for (int i = 0; i < 50; i++) { // x+ falls as the core grows
        const double middle = (low + high) / 2;
        bk_integral_model(exp(middle), &x, &loss);
        if (x > entrance)
            low = middle;
        else
            high = middle;
    }
    *core = exp((low + high) / 2);
    bk_integral_model(*core, &x, &loss);
    return loss + 64 * (entrance - x); // beyond the smallest core the flow is developed
}

double bk_expansion_flat(double density, double area_s, double area_d, double flow)
{
    const double step = 1 / area_s - 1 / area_d;
    return density / 2 * flow * flow * step * step;
}

double bk_expansion_parabolic(double density, double area_s, double area_d, double flow)
{
    return density * flow * flow * (1 / area_s - 1 / area_d) * (1 / area_s - 1 / (3 * area_d));
}

bk_young_tsai bk_young_tsai_of(bk_blood blood, double d0_m, double ds_m, double ls_m)
{
    const double ratio = bk_circle(d0_m) / bk_circle(ds_m), a0 = bk_circle(d0_m);
    bk_young_tsai out;
    out.kv = 32 * (0.83 * ls_m + 1.64 * ds_m) / d0_m * ratio * ratio;
    out.linear = out.kv * blood.viscosity_pa_s / (a0 * d0_m);
    out.squared = 1.52 / 2 * blood.density_kg_m3 * (ratio - 1) * (ratio - 1) / (a0 * a0);
    return out;
}
