/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/flow/loss.h"

#include <math.h>

#define PI 3.14159265358979323846
#define LESION_BELOW 0.9

/* Integral of dx/D^4 over one step on which D runs linearly: closed form of the cone. */
static double cone(double da, double db, double length)
{
    if (fabs(da - db) < 1e-6 * da)
        return length / pow((da + db) / 2, 4);
    return length / (3 * (da - db)) * (1 / (db * db * db) - 1 / (da * da * da));
}

/* Keep the tightest lesions, in their order along the limb. */
static void keep_lesion(bk_limb_loss *limb, bk_flow_lesion found)
{
    if (limb->n < BK_LESIONS_MAX) {
        limb->lesion[limb->n++] = found;
        return;
    }
    size_t widest = 0;
    for (size_t i = 1; i < limb->n; i++)
        if (limb->lesion[i].throat_area_m2 > limb->lesion[widest].throat_area_m2)
            widest = i;
    if (found.throat_area_m2 >= limb->lesion[widest].throat_area_m2)
        return;
    for (size_t i = widest; i + 1 < limb->n; i++)
        limb->lesion[i] = limb->lesion[i + 1];
    limb->lesion[limb->n - 1] = found;
}

/* Samples from..to are narrow; the healthy neighbours on both sides, where there are any, belong to it. */
static bk_flow_lesion lesion_of(bk_blood blood, const double *x, const double *d, const double *reference,
                                size_t n, size_t from, size_t to)
{
    // a lesion cut by the end of the curve meets the healthy width there
    const double before = from > 0 ? d[from - 1] : reference[from];
    const double after = to + 1 < n ? d[to + 1] : reference[to];
    const size_t first = from > 0 ? from - 1 : from, last = to + 1 < n ? to + 1 : to;
    double throat = d[from], integral = 0;
    for (size_t i = from; i <= to; i++)
        throat = fmin(throat, d[i]);
    for (size_t i = first; i < last; i++)
        integral += cone(d[i], d[i + 1], x[i + 1] - x[i]);
    return (bk_flow_lesion){.from_m = x[first],
                            .to_m = x[last],
                            .throat_d_m = throat,
                            .throat_area_m2 = bk_circle(throat),
                            .before_m2 = bk_circle(fmax(before, throat)),
                            .after_m2 = bk_circle(fmax(after, throat)),
                            .throat_length_m = integral * pow(throat, 4),
                            .viscous = 128 * blood.viscosity_pa_s / PI * integral};
}

bk_limb_loss bk_limb_loss_of(bk_blood blood, const double *position, const double *diameter,
                             const double *reference, size_t n)
{
    bk_limb_loss out = {0};
    double integral = 0;
    for (size_t i = 0; i < n; i++)
        if (diameter[i] <= 0)
            return (bk_limb_loss){.occluded = true};
    for (size_t i = 0; i + 1 < n; i++)
        integral += cone(diameter[i], diameter[i + 1], position[i + 1] - position[i]);
    out.friction = 128 * blood.viscosity_pa_s / PI * integral;
    bool narrow = false;
    size_t from = 0;
    for (size_t i = 0; i <= n; i++) {
        const bool now = i < n && diameter[i] < LESION_BELOW * reference[i];
        if (now && !narrow)
            from = i;
        if (!now && narrow)
            keep_lesion(&out, lesion_of(blood, position, diameter, reference, n, from, i - 1));
        narrow = now;
    }
    const bool starts = out.n && out.lesion[0].from_m <= position[0];
    const bool ends = out.n && out.lesion[out.n - 1].to_m >= position[n - 1];
    out.in_m2 = starts ? out.lesion[0].before_m2 : bk_circle(diameter[0]);
    out.out_m2 = ends ? out.lesion[out.n - 1].after_m2 : bk_circle(diameter[n - 1]);
    return out;
}

/* Drop into a throat and recovery behind it, in static pressure, for a jet of momentum factor beta. */
static double momentum(const bk_flow_lesion *l, double density, double flow, double beta)
{
    const double s = l->throat_area_m2 / l->before_m2, in = (1 - s * s) * (1 - s * s);
    const double as = l->throat_area_m2, ad = l->after_m2;
    const double q = density / 2 * flow * flow;
    return q * in / (as * as) - 2 * q * (beta / (as * ad) - 4 / (3 * ad * ad));
}

/* Parabolic inflow drawn together without friction has u = V (1 -+ s^2) in the throat: energy factor 1 + s^4,
   momentum factor 1 + s^4/3 with s the ratio of areas. Only what is flat of it, 1 - s^4, is left to develop. */
static double lesion_by_curve(const bk_flow_lesion *l, bk_blood blood, double flow)
{
    const double s = l->throat_area_m2 / l->before_m2, flat = 1 - s * s * s * s;
    const double x = bk_entrance(blood, l->throat_length_m, flow);
    const double q = blood.density_kg_m3 / 2 * flow * flow / (l->throat_area_m2 * l->throat_area_m2);
    const double excess = bk_shah_london(x) - 64 * x, developed = fmin(1, excess / 1.25);
    const double beta = 4.0 / 3 - flat * (1 - developed) / 3;
    return momentum(l, blood.density_kg_m3, flow, beta) + q * flat * excess;
}

/* The published model: friction of developing flow, exit between flat and parabolic by the core left. */
static double lesion_by_integrals(const bk_flow_lesion *l, bk_blood blood, double flow)
{
    double core;
    const double x = bk_entrance(blood, l->throat_length_m, flow), as = l->throat_area_m2;
    const double q = blood.density_kg_m3 / 2 * flow * flow / (as * as);
    const double excess = q * (bk_integral_loss(x, &core) - 64 * x);
    const double flat = bk_expansion_flat(blood.density_kg_m3, as, l->after_m2, flow);
    const double parabolic = bk_expansion_parabolic(blood.density_kg_m3, as, l->after_m2, flow);
    return excess + flat + (parabolic - flat) * (1 - core) * (1 - core);
}

double bk_lesion_loss(const bk_limb_loss *limb, bk_blood blood, size_t lesion, double flow)
{
    const bk_flow_lesion *l = &limb->lesion[lesion];
    if (flow <= 0)
        return 0;
    if (limb->model == BK_LOSS_INTEGRAL)
        return lesion_by_integrals(l, blood, flow);
    if (limb->model == BK_LOSS_CURVE)
        return lesion_by_curve(l, blood, flow);
    const bk_young_tsai law =
        bk_young_tsai_of(blood, 2 * sqrt(l->before_m2 / PI), l->throat_d_m, l->to_m - l->from_m);
    return (law.linear - l->viscous) * flow + law.squared * flow * flow; // its friction replaces the curve's
}

double bk_limb_loss_at(const bk_limb_loss *limb, bk_blood blood, double flow)
{
    double sum = limb->friction * flow;
    double from = limb->in_m2; // between lesions the profile is parabolic: energy factor 2
    for (size_t i = 0; i < limb->n; i++) {
        const bk_flow_lesion *l = &limb->lesion[i];
        sum += bk_lesion_loss(limb, blood, i, flow);
        sum += blood.density_kg_m3 * flow * flow * (1 / (l->before_m2 * l->before_m2) - 1 / (from * from));
        from = l->after_m2;
    }
    return sum + blood.density_kg_m3 * flow * flow * (1 / (limb->out_m2 * limb->out_m2) - 1 / (from * from));
}

/* Share of a lesion's friction that lies before a place, from the running friction of the curve. */
static double passed(const bk_flow_lesion *l, const double *position, const double *friction, size_t i)
{
    double before = friction[0];
    for (size_t k = 0; k <= i && position[k] <= l->from_m; k++)
        before = friction[k];
    return position[i] <= l->from_m ? 0 : fmin(1, (friction[i] - before) / l->viscous);
}

void bk_pull_back(const bk_limb_loss *limb, bk_blood blood, const double *position, const double *diameter, size_t n,
                  double flow, double *drop)
{
    const double unit = 128 * blood.viscosity_pa_s / PI;
    double rest = bk_limb_loss_at(limb, blood, flow) - limb->friction * flow;
    drop[0] = 0;
    for (size_t i = 1; i < n; i++)
        drop[i] = drop[i - 1] + unit * cone(diameter[i - 1], diameter[i], position[i] - position[i - 1]);
    for (size_t k = 0; k < limb->n; k++)
        rest -= bk_lesion_loss(limb, blood, k, flow); // what taper adds: spread as friction is
    for (size_t i = n; i-- > 0;) {                    // from the far end, so that drop[] before i is still friction
        double loss = drop[i] * flow + rest * drop[i] / limb->friction;
        for (size_t k = 0; k < limb->n; k++)
            loss += bk_lesion_loss(limb, blood, k, flow) * passed(&limb->lesion[k], position, drop, i);
        drop[i] = loss;
    }
}
