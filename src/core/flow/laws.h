/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Published laws of pressure loss in a tube and across a narrowing. SI units: Pa, m, m3/s; diameters and
   lengths in metres. Steady, Newtonian, rigid wall. docs/methods/flow.md */
#ifndef BK_CORE_FLOW_LAWS_H
#define BK_CORE_FLOW_LAWS_H

#define BK_PA_PER_MMHG 133.322

typedef struct bk_blood {
    double viscosity_pa_s, density_kg_m3;
} bk_blood;

/** Area of a circle [m2]. */
double bk_circle(double diameter_m);
/** Reynolds number of the mean velocity. */
double bk_reynolds(bk_blood blood, double diameter_m, double flow);
/** Poiseuille loss [Pa] of a straight tube. Valid: laminar, developed. Source: textbook. */
double bk_poiseuille(bk_blood blood, double diameter_m, double length_m, double flow);
/** Dimensionless entrance length x+ = L/(D Re) = pi mu L/(4 rho Q). */
double bk_entrance(bk_blood blood, double length_m, double flow);
/**
 * Loss of developing flow from a flat inlet, in units of rho V^2/2, at dimensionless length x+ > 0; change of
 * momentum included. Source: Shah & London, Laminar Flow Forced Convection in Ducts, 1978 (from memory).
 */
double bk_shah_london(double entrance);

/**
 * The integral model of developing flow by its flat core fraction a in (0, 1): entrance length x+ and loss in
 * units of rho V^2/2. Source: Huo, Svendsen, Choy, Zhang, Kassab, J R Soc Interface 2012;9:1325-38 (integrands
 * seen in an excerpt, factors from memory).
 */
void bk_integral_model(double core, double *entrance, double *loss);
/** Loss at x+ by the integral model; *core: the flat core fraction left there (0: developed). */
double bk_integral_loss(double entrance, double *core);

/** Loss [Pa] of a sudden widening from area_s to area_d, flat jet (Borda-Carnot). Source: textbook. */
double bk_expansion_flat(double density, double area_s, double area_d, double flow);
/** The same with parabolic jet and parabolic outlet: rho Q^2 (1/As - 1/Ad)(1/As - 1/(3 Ad)). */
double bk_expansion_parabolic(double density, double area_s, double area_d, double flow);

typedef struct bk_young_tsai {
    double kv;      /* viscous coefficient */
    double linear;  /* Pa per m3/s */
    double squared; /* Pa per (m3/s)^2 */
} bk_young_tsai;

/**
 * Net loss of one stenosis: linear Q + squared Q^2. Kv = 32 (La/D0)(A0/As)^2, La = 0.83 Ls + 1.64 Ds, Kt 1.52.
 * Do not add Poiseuille of the same stretch. Range: Re 100 to 5000. Reads low in throats of Re above 1000.
 * Source: Young & Tsai, J Biomech 1973;6:395; Seeley & Young 1976;9:439 (quoted in public codes).
 */
bk_young_tsai bk_young_tsai_of(bk_blood blood, double d0_m, double ds_m, double ls_m);

#endif
