/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pressure loss along one limb from its diameter curve, and its dependence on flow. docs/methods/flow.md */
#ifndef BK_CORE_FLOW_LOSS_H
#define BK_CORE_FLOW_LOSS_H

#include <stdbool.h>
#include <stddef.h>

#include "core/flow/laws.h"

enum { BK_LESIONS_MAX = 4, BK_LOSS_NODES = 5 };

/* Loss beyond Poiseuille over flow squared [Pa per (m3/s)^2], at flows that grow fourfold from node to node. */
typedef struct bk_loss_table {
    double node[BK_LOSS_NODES];
} bk_loss_table;

/* A narrowing: what it adds to Poiseuille along the curve. */
typedef struct bk_flow_lesion {
    double from_m, to_m; /* along the curve */
    double throat_d_m, throat_area_m2, before_m2, after_m2;
    double throat_length_m; /* of the cylinder of throat diameter with the lesion's Poiseuille loss */
    double viscous;         /* Poiseuille inside the lesion, Pa per m3/s */
    bk_loss_table beyond;   /* ours: from this lesion to the next, or to the end of the curve */
} bk_flow_lesion;

typedef enum bk_loss_model {
    BK_LOSS_CURVE = 0,   /* ours: the velocity profile followed along the curve, profile.h */
    BK_LOSS_YOUNG_TSAI,  /* Young & Tsai for each lesion, Poiseuille elsewhere */
    BK_LOSS_INTEGRAL     /* developing flow and exit by the analytic integral model */
} bk_loss_model;

typedef struct bk_limb_loss {
    bk_loss_model model;
    bool occluded; /* no flow passes */
    double friction; /* Poiseuille of the whole curve, Pa per m3/s */
    double in_m2, out_m2;
    double first_flow;    /* of the tables' first node: Re 50 in the tightest throat */
    bk_loss_table before; /* ours: beyond Poiseuille in front of the first lesion */
    bk_flow_lesion lesion[BK_LESIONS_MAX];
    size_t n;
} bk_limb_loss;

/**
 * Prepare a limb.
 *
 * position  metres, rising, n >= 2; diameter > 0 in metres; reference: healthy diameter there
 * Method    a lesion is a stretch narrower than 90 % of the reference (choice of this project); the widths
 *           before and after it are the curve's own at its ends. More than four: the tightest four lose by
 *           their throat, the rest by friction only (by the two other models). A diameter of 0 anywhere:
 *           occluded. Ours is followed along the curve at Re 50, 200 ... 12800 in the tightest throat and tabulated;
 *           what a jet has not recovered by the end of the curve is not recovered.
 */
bk_limb_loss bk_limb_loss_of(bk_blood blood, const double *position, const double *diameter,
                             const double *reference, size_t n);

/** Loss [Pa] of one lesion beyond the friction of its stretch; ours: up to the next lesion, recovery included. */
double bk_lesion_loss(const bk_limb_loss *limb, bk_blood blood, size_t lesion, double flow);
/** Static pressure loss [Pa] over the whole limb at flow >= 0 [m3/s]; never negative on a closed circuit. */
double bk_limb_loss_at(const bk_limb_loss *limb, bk_blood blood, double flow);

/**
 * Loss [Pa] from the start of the limb to each place of its curve: a pull-back. limb was made from this curve.
 * Inside a lesion its loss is spread as its friction is; the last entry is the loss of the whole limb.
 */
void bk_pull_back(const bk_limb_loss *limb, bk_blood blood, const double *position, const double *diameter, size_t n,
                  double flow, double *drop);

#endif
