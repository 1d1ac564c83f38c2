/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What rules and models on the side branch look at: numbers with their spread, quantities made of them, and
   facts. A number that is missing, or that one view shows only in part, is a span and not a point: a rule
   then answers "unknown" by itself. docs/methods/risk.md */
#ifndef BK_CORE_RISK_INPUTS_H
#define BK_CORE_RISK_INPUTS_H

#include "base/evidence.h"
#include "core/case/facts.h"

/* Numbers that carry a spread of their own. */
typedef enum bk_risk_input {
    BK_IN_PROXIMAL_REFERENCE,
    BK_IN_DISTAL_REFERENCE,
    BK_IN_SIDE_REFERENCE,
    BK_IN_PROXIMAL_STENOSIS,
    BK_IN_DISTAL_STENOSIS,
    BK_IN_CORE_STENOSIS,
    BK_IN_SIDE_STENOSIS,
    BK_IN_PROXIMAL_LESION,
    BK_IN_DISTAL_LESION,
    BK_IN_SIDE_LESION,
    BK_IN_SIDE_VESSEL,
    BK_IN_SIDE_MASS, /* share of the left ventricle behind the side branch, core/flow/territory */
    BK_IN_DISTAL_SIDE_ANGLE,
    BK_IN_PROXIMAL_SIDE_ANGLE,
    BK_RISK_INPUTS
} bk_risk_input;

/** Where an input stands in the case document. */
extern const char *const bk_risk_input_paths[BK_RISK_INPUTS];
extern const char *const bk_risk_input_units[BK_RISK_INPUTS];

typedef enum bk_risk_fact {
    BK_FACT_NEVER_ASKED, /* no input of the case says it: always unknown */
    BK_FACT_ACS,
    BK_FACT_STEMI,
    BK_FACT_PLAQUE_SAME,
    BK_FACT_MAIN_FLOW_LOW,
    BK_FACT_CALCIFIED, /* any calcium */
    BK_FACT_CALCIUM_MODERATE /* moderate and worse */,
    BK_FACT_THROMBUS,
    BK_FACT_PLAQUE_MAY_SHIFT, /* thrombus, or an ulcerated plaque */
    BK_FACT_NOT_LAD,
    BK_FACT_MULTIPLE_LESIONS,
    BK_FACT_ACCESS_DIFFICULT,
    BK_FACT_RESOLVE_HIGH, /* the sum of resolve.h reaches its line; unknown without a point table */
    BK_RISK_FACTS
} bk_risk_fact;

/* A stenosis that was worked out from the smallest and the reference diameter of its limb errs with them. */
typedef struct bk_stenosis_parts {
    bool known;   /* false: the stenosis stands by itself */
    bk_qty mld;   /* with its own SD, without the scale */
    double share; /* correlation of the two errors that the stated SDs imply; 0 when it was worked out here */
} bk_stenosis_parts;

typedef struct bk_risk_inputs {
    bk_fact fact[BK_RISK_INPUTS];
    bk_stenosis_parts parts[BK_LIMBS];
    double scale_sd_pct; /* NaN: unknown */
    bk_tri known[BK_RISK_FACTS];
    int site, context, presentation, strategy;
    bk_tri trifurcation;
    bk_tri side_occluded; /* before anything is done */
    bool resolve_entered; /* a point table is there */
    double resolve_low, resolve_high; /* what is known of its sum */
} bk_risk_inputs;

/** Collect from a case. A lesion that a measurement did not find has length 0. */
bk_risk_inputs bk_risk_inputs_of(const bk_case *c, const bk_facts *facts, const bk_evidence_set *evidence);

/** The fact that an input rests on; an absent one where it is worked out from several (BK_IN_SIDE_MASS). */
const bk_fact *bk_risk_input_fact(const bk_facts *facts, bk_risk_input input);

/* Quantities that rules compare with a line. */
typedef enum bk_risk_quantity {
    BK_Q_SIDE_REFERENCE,
    BK_Q_MAIN_REFERENCE, /* mean of proximal and distal */
    BK_Q_DIAMETER_RATIO, /* main reference over side reference */
    BK_Q_SIDE_OVER_DISTAL, /* side reference over distal reference */
    BK_Q_PROXIMAL_STENOSIS,
    BK_Q_DISTAL_STENOSIS,
    BK_Q_CORE_STENOSIS,
    BK_Q_SIDE_STENOSIS,
    BK_Q_MAIN_STENOSIS, /* largest of proximal, distal and core (contract) */
    BK_Q_BOTH_STENOSES, /* the smaller of main and side stenosis: reaches a line when both do */
    BK_Q_TRUE_STENOSES, /* the smaller of side and the larger of proximal and distal: Medina (X,X,1) */
    BK_Q_ANY_STENOSIS,  /* the larger of main and side stenosis */
    BK_Q_LARGEST_LIMB,  /* largest stenosis of the three limbs */
    BK_Q_SECOND_LIMB,   /* the second largest: below a line, at most one limb is diseased */
    BK_Q_SIDE_LESION,
    BK_Q_MAIN_LESION, /* lesions of the proximal and the distal limb added */
    BK_Q_SIDE_VESSEL,
    BK_Q_SIDE_MASS,
    BK_Q_DISTAL_SIDE_ANGLE,
    BK_Q_PROXIMAL_SIDE_ANGLE,
    BK_Q_PARENT_SIDE_ANGLE, /* turn from the parent's axis into the side branch: 180 less proximal to side */
    BK_Q_COSINE_STENOSIS,   /* 100 cos of that angle, 0 from a right angle on */
    BK_RISK_QUANTITIES
} bk_risk_quantity;

/** In words, and the unit ("" for a ratio). */
extern const char *const bk_risk_quantity_words[BK_RISK_QUANTITIES],
    *const bk_risk_quantity_units[BK_RISK_QUANTITIES];
extern const char
    *const bk_risk_fact_words[BK_RISK_FACTS]; /* "" for BK_FACT_NEVER_ASKED: its model's id says it */

/* All that is known of a quantity: it lies in low..high. */
typedef struct bk_span {
    double low, high;
} bk_span;

/** The spans of the inputs as they stand: a point, "at least" for a length seen in one view, all for an angle
    seen in one view and for what is missing. */
void bk_risk_spans(const bk_risk_inputs *inputs, bk_span out[BK_RISK_INPUTS]);

/** A quantity from the spans of the inputs. */
bk_span bk_risk_quantity_of(bk_risk_quantity quantity, const bk_span inputs[BK_RISK_INPUTS]);

/** The inputs a quantity is made of, as bits 1 << bk_risk_input. */
unsigned bk_risk_quantity_inputs(bk_risk_quantity quantity);

#endif
