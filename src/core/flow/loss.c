/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/flow/loss.h"

#include <math.h>

#include "core/flow/profile.h"

#define PI 3.14159265358979323846
#define LESION_BELOW 0.9
#define FIRST_RE 50.0 /* below it what inertia adds goes with the square of the flow */
#define NODE_STEP 2   /* from node to node the flow grows by 2^2 */

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

/* What the profiles lost since the last call, beyond this much Poiseuille. */
static void note(const bk_profile profile[BK_LOSS_NODES], double passed[BK_LOSS_NODES], double friction, bk_loss_table *out)
{
    for (int k = 0; k < BK_LOSS_NODES; k++) {
        const double flow = profile[k].flow;
        out->node[k] = (profile[k].drop - passed[k] - friction * flow) / (flow * flow);
        passed[k] = profile[k].drop;
    }
}

/* Follow the profile along the curve at the flows of the nodes: the loss of each stretch between the starts of lesions. */
static void tabulate(bk_limb_loss *limb, bk_blood blood, const double *x, const double *d, size_t n)
{
    bk_profile profile[BK_LOSS_NODES];
    double throat = limb->lesion[0].throat_d_m, friction = 0, passed[BK_LOSS_NODES] = {0};
    for (size_t i = 1; i < limb->n; i++)
        throat = fmin(throat, limb->lesion[i].throat_d_m);
    limb->first_flow = FIRST_RE * PI * blood.viscosity_pa_s * throat / (4 * blood.density_kg_m3);
    for (int k = 0; k < BK_LOSS_NODES; k++)
        profile[k] = bk_profile_developed(ldexp(limb->first_flow, NODE_STEP * k));
    // the limb comes from and goes on to its healthy width
    const double enter = 2 * sqrt(limb->in_m2 / PI), leave = 2 * sqrt(limb->out_m2 / PI);
    bk_loss_table *table = limb->lesion[0].from_m <= x[0] ? &limb->lesion[0].beyond : &limb->before;
    size_t next = table == &limb->before ? 0 : 1;
    bk_profile_pass(profile, BK_LOSS_NODES, blood, enter, d[0], 0);
    for (size_t i = 0; i + 1 < n; i++) {
        if (next < limb->n && x[i] >= limb->lesion[next].from_m) {
            note(profile, passed, friction, table);
            friction = 0;
            table = &limb->lesion[next++].beyond;
        }
        bk_profile_pass(profile, BK_LOSS_NODES, blood, d[i], d[i + 1], x[i + 1] - x[i]);
        friction += 128 * blood.viscosity_pa_s / PI * cone(d[i], d[i + 1], x[i + 1] - x[i]);
    }
    bk_profile_pass(profile, BK_LOSS_NODES, blood, d[n - 1], leave, 0);
    note(profile, passed, friction, table);
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
    if (out.n)
        tabulate(&out, blood, position, diameter, n);
    return out;
}

/* Cubic through four nodes in the logarithm of the flow (Catmull-Rom). */
static double look_up(const bk_loss_table *table, double first_flow, double flow)
{
    const double at = fmin(BK_LOSS_NODES - 1, fmax(0, log2(flow / first_flow) / NODE_STEP));
    const int i = at >= BK_LOSS_NODES - 1 ? BK_LOSS_NODES - 2 : (int)at;
    const double t = at - i, *v = table->node;
    const double b = v[i], c = v[i + 1], a = i ? v[i - 1] : b, d = i + 2 < BK_LOSS_NODES ? v[i + 2] : c;
    const double value = b + t / 2 * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a)));
    return value * flow * flow;
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
        return look_up(&l->beyond, limb->first_flow, flow);
    const bk_young_tsai law =
        bk_young_tsai_of(blood, 2 * sqrt(l->before_m2 / PI), l->throat_d_m, l->to_m - l->from_m);
    return (law.linear - l->viscous) * flow + law.squared * flow * flow; // its friction replaces the curve's
}

double bk_limb_loss_at(const bk_limb_loss *limb, bk_blood blood, double flow)
{
    double sum = limb->friction * flow;
    if (limb->model == BK_LOSS_CURVE && limb->n && flow > 0) {
        sum += look_up(&limb->before, limb->first_flow, flow);
        for (size_t i = 0; i < limb->n; i++)
            sum += bk_lesion_loss(limb, blood, i, flow);
        return sum;
    }
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
