/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/flow/network.h"

#include <math.h>

enum { ROUNDS = 60, HALVINGS = 30 };
#define CLOSE_PA 1e-3

double bk_bed_of(double aortic_pa, double venous_pa, double flow)
{
    return (aortic_pa - venous_pa) / flow;
}

/* Bed and collateral as one source behind the limb: pressure without flow, and resistance. */
typedef struct source {
    double pa, resistance;
} source;

static source behind(const bk_network *n, int limb)
{
    const double bed = n->bed[limb], col = n->collateral[limb];
    if (col <= 0)
        return (source){n->venous_pa, bed};
    return (source){(n->venous_pa * col + n->aortic_pa * bed) / (col + bed), col * bed / (col + bed)};
}

typedef struct point {
    double flow[2], fault[2], slope[2], trunk_slope;
} point;

/* Collaterals may push blood back through a limb: the same loss the other way round. */
static double loss_either_way(const bk_limb_loss *limb, bk_blood blood, double flow)
{
    return flow < 0 ? -bk_limb_loss_at(limb, blood, -flow) : bk_limb_loss_at(limb, blood, flow);
}

static double slope_of(const bk_limb_loss *limb, bk_blood blood, double flow, double at)
{
    const double step = 1e-6 * fabs(flow) + 1e-15;
    return (loss_either_way(limb, blood, flow + step) - at) / step;
}

static point look(const bk_network *n, const source src[2], const bool open[2], const double flow[2])
{
    point p = {.flow = {flow[0], flow[1]}};
    const double sum = flow[0] + flow[1];
    const double trunk = loss_either_way(&n->limb[BK_PROXIMAL], n->blood, sum);
    p.trunk_slope = slope_of(&n->limb[BK_PROXIMAL], n->blood, sum, trunk);
    for (int k = 0; k < 2; k++) {
        const bk_limb_loss *limb = &n->limb[BK_DISTAL + k];
        if (!open[k]) {
            p.slope[k] = 1;
            continue;
        }
        const double loss = loss_either_way(limb, n->blood, flow[k]);
        p.fault[k] = trunk + loss + src[k].resistance * flow[k] + src[k].pa - n->aortic_pa;
        p.slope[k] = src[k].resistance + slope_of(limb, n->blood, flow[k], loss);
    }
    return p;
}

/* How far the pressures are from fitting [Pa]. */
static double size(const point *p)
{
    return hypot(p->fault[0], p->fault[1]);
}

static void step_of(const point *p, const bool open[2], double out[2])
{
    const double t = open[0] && open[1] ? p->trunk_slope : 0;
    const double a = p->slope[0] + (open[0] ? p->trunk_slope : 0), b = p->slope[1] + (open[1] ? p->trunk_slope : 0);
    const double det = a * b - t * t;
    out[0] = -(b * p->fault[0] - t * p->fault[1]) / det;
    out[1] = -(a * p->fault[1] - t * p->fault[0]) / det;
}

static point advance(const bk_network *n, const source src[2], const bool open[2], const point *p)
{
    double step[2], flow[2];
    point next = *p;
    step_of(p, open, step);
    for (int half = 0; half < HALVINGS; half++) {
        for (int k = 0; k < 2; k++) {
            flow[k] = p->flow[k] + step[k];
            step[k] /= 2;
        }
        next = look(n, src, open, flow);
        if (size(&next) < size(p))
            break;
    }
    return next;
}

bk_network_state bk_network_solve(const bk_network *network)
{
    bk_network_state out = {0};
    const bool trunk = !network->limb[BK_PROXIMAL].occluded;
    source src[2];
    bool open[2];
    double flow[2];
    for (int k = 0; k < 2; k++) {
        src[k] = behind(network, BK_DISTAL + k);
        open[k] = trunk && !network->limb[BK_DISTAL + k].occluded;
        flow[k] = open[k] ? 0.5 * (network->aortic_pa - src[k].pa) / src[k].resistance : 0;
    }
    point p = {.flow = {0, 0}};
    if (open[0] || open[1]) {
        p = look(network, src, open, flow);
        while (size(&p) > CLOSE_PA && out.rounds < ROUNDS) {
            p = advance(network, src, open, &p);
            out.rounds++;
        }
    }
    out.solved = size(&p) < 1;
    out.flow[BK_PROXIMAL] = p.flow[0] + p.flow[1];
    // behind an occluded trunk the junction is filled by whatever comes back through the daughters: not solved
    out.end_pa[BK_PROXIMAL] =
        trunk ? network->aortic_pa -
                    loss_either_way(&network->limb[BK_PROXIMAL], network->blood, out.flow[BK_PROXIMAL])
              : (src[0].pa + src[1].pa) / 2;
    for (int k = 0; k < 2; k++) {
        out.flow[BK_DISTAL + k] = p.flow[k];
        out.end_pa[BK_DISTAL + k] = src[k].pa + src[k].resistance * p.flow[k];
    }
    return out;
}
