/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The case document as structs: what a person or another program told us. Answers are pure functions of it.
   Each struct is described by one field table (case_*.c), from which reading, checks and listings come.
   Enumerations follow the order of the words in the tables; 0 is always "not said". */
#ifndef BK_CORE_CASE_CASE_H
#define BK_CORE_CASE_CASE_H

#include "base/field.h"
#include "core/limb.h"

/* ---- patient ---- */

enum bk_sex { BK_SEX_NOT_SAID, BK_MALE, BK_FEMALE };
enum bk_presentation {
    BK_PRESENTATION_NOT_SAID,
    BK_CHRONIC,
    BK_UNSTABLE,
    BK_NSTEMI,
    BK_STEMI,
    BK_SHOCK,
    BK_ARREST
};
enum bk_diabetes { BK_DIABETES_NOT_SAID, BK_DIABETES_NONE, BK_DIABETES_ORAL, BK_DIABETES_INSULIN };

/* What the definition of high bleeding risk (ARC) asks besides age, blood and kidney. */
typedef struct bk_bleeding_history {
    bk_tri bleeding_6_months, bleeding_12_months, diathesis, cirrhosis_portal, cancer_12_months;
    bk_tri intracranial_spontaneous, intracranial_traumatic_12_months, brain_malformation;
    bk_tri stroke_6_months, ischaemic_stroke_ever, surgery_planned, surgery_or_trauma_30_days, nsaid_or_steroid;
} bk_bleeding_history;

typedef struct bk_patient {
    bk_qty age_y;
    int sex; /* enum bk_sex */
    bk_qty weight_kg, height_cm;
    bk_qty creatinine_mg_dl, creatinine_umol_l;                   /* at most one */
    bk_qty haemoglobin_g_dl, haemoglobin_g_l, haemoglobin_mmol_l; /* at most one */
    int presentation, diabetes;
    bk_qty lvef_pct;
    bk_tri dialysis, creatinine_unstable;
    bk_qty haematocrit_pct, platelets_10e9_l, white_cells_10e9_l;
    bk_tri heart_failure, smoker, oral_anticoagulation, prior_pci_or_infarction;
    bk_bleeding_history bleeding_history;
    bk_qty lv_mass_g, aortic_mean_mmhg;
} bk_patient;

/* ---- anatomy, as entered ---- */

typedef struct bk_limb_input {
    char vessel[48];
    bk_qty reference_mm;
    bk_qty mld_mm, stenosis_pct; /* at most one: the other follows from the reference */
    bk_qty lesion_length_mm, length_mm, vessel_length_mm;
    int timi, stent_layers;
    bk_tri occluded;
    bk_qty wedge_mmhg;
} bk_limb_input;

enum bk_site { BK_SITE_NOT_SAID, BK_LEFT_MAIN, BK_LAD_DIAGONAL, BK_LCX_MARGINAL, BK_RCA_CRUX, BK_SITE_OTHER };
enum bk_context { BK_CONTEXT_NOT_SAID, BK_DE_NOVO, BK_IN_STENT, BK_CTO, BK_GRAFT_ANASTOMOSIS };
enum bk_plaque_side { BK_PLAQUE_UNKNOWN, BK_PLAQUE_SAME, BK_PLAQUE_OPPOSITE, BK_PLAQUE_BOTH, BK_PLAQUE_NONE };
enum bk_calcium {
    BK_CALCIUM_UNKNOWN,
    BK_CALCIUM_NONE,
    BK_CALCIUM_MILD,
    BK_CALCIUM_MODERATE,
    BK_CALCIUM_SEVERE,
    BK_CALCIUM_NODULE
};

typedef struct bk_segments_input {
    bk_limb_input proximal, distal, side;
} bk_segments_input;

typedef struct bk_angles_input {
    bk_qty distal_side_deg, proximal_side_deg, proximal_distal_deg;
} bk_angles_input;

typedef struct bk_anatomy_input {
    int site, dominance, context;
    bk_segments_input segments;
    bk_limb_input *extra_limb;
    bk_qty core_stenosis_pct;
    double calibration_sd_pct;
    bk_angles_input angles;
    int plaque_side, thrombus_grade, calcium, collaterals;
    bk_tri ulcerated, viable, last_patent_vessel;
    bk_tri multiple_lesions, side_access_difficult;
    bk_qty front_velocity_cm_s;
} bk_anatomy_input;

/* ---- treat at all? ---- */

enum bk_symptoms { BK_SYMPTOMS_NOT_SAID, BK_SYMPTOMS_NONE, BK_SYMPTOMS_EXERTIONAL, BK_SYMPTOMS_AT_REST, BK_SYMPTOMS_EQUIVALENT };
enum bk_ischaemia_test { BK_TEST_NOT_SAID, BK_TEST_NOT_DONE, BK_TEST_NEGATIVE, BK_TEST_POSITIVE, BK_TEST_INCONCLUSIVE };

typedef struct bk_indication_input {
    int symptoms; /* enum bk_symptoms */
    bk_tri symptoms_on_drugs;
    int ischaemia_test; /* enum bk_ischaemia_test */
    bk_qty ischaemic_mass_pct;
    bk_tri test_matches;
    int diseased_vessels; /* 1..3, BK_INTEGER_ABSENT when not said */
    bk_tri heart_team, dapt_possible;
} bk_indication_input;

/* ---- physiology, imaging, labs ---- */

enum bk_pressure_index { BK_INDEX_NOT_SAID, BK_INDEX_FFR, BK_INDEX_RESTING };

typedef struct bk_physiology {
    int limb, stage, index;
    bk_qty value, drift;
} bk_physiology;

typedef struct bk_imaging {
    int mode, stage, limb;
    bk_qty lumen_area_mm2, reference_area_mm2, vessel_area_mm2, msa_mm2;
    int calcium_score;
    char edge[48];
    int recross_cell;
} bk_imaging;

enum bk_limit_kind { BK_LIMIT_NOT_SAID, BK_LIMIT_URL_99, BK_LIMIT_ULN };

typedef struct bk_lab {
    char at[40], test[40];
    bk_qty value;
    char unit[24];
    bk_qty limit;
    int limit_kind; /* enum bk_limit_kind */
} bk_lab;

/* ---- the procedure: what is given, measured and used while it runs ---- */

enum bk_act_family { BK_ACT_FAMILY_NOT_SAID, BK_ACT_LOW_READING, BK_ACT_HIGH_READING };
enum bk_anticoagulant { BK_ANTICOAGULANT_NOT_SAID, BK_NO_ANTICOAGULANT, BK_ON_HEPARIN, BK_ON_ENOXAPARIN, BK_ON_FONDAPARINUX };

typedef struct bk_procedure {
    char ended_at[40];                       /* ISO 8601; splits the laboratory values into before and after */
    bk_qty iodine_mg_ml, contrast_ml;        /* of the agent; used so far */
    bk_qty air_kerma_gy, fluoroscopy_min, skin_dose_gy;
    bk_qty kerma_area_gy_cm2, kerma_area_dgy_cm2; /* at most one */
    bk_qty reference_distance_cm, skin_distance_cm; /* of the tube from the reference point and from the skin */
    bk_tri table_in_beam;
    bk_tri gp_inhibitor;                     /* GP IIb/IIIa, planned or given */
    int act_family, anticoagulant, contrast_rule;
    bk_qty act_s, act_minutes_ago, act_interval_min, enoxaparin_hours_ago, heparin_u;
    bk_tri hypotension, balloon_pump, stent_below_3mm, paclitaxel_stent, vein_graft;
} bk_procedure;

/* ---- decision, injury, result ---- */

enum bk_strategy {
    BK_STRATEGY_NOT_SAID,
    BK_PROVISIONAL,
    BK_PROVISIONAL_WIRE,
    BK_JAILED_BALLOON,
    BK_KISSING_PREDILATATION,
    BK_INVERTED,
    BK_SINGLE_LIMB,
    BK_DCB_SIDE,
    BK_T,
    BK_TAP,
    BK_CULOTTE,
    BK_DK_CULOTTE,
    BK_DK_CRUSH,
    BK_STRATEGIES
};
/** Strategy ids of the contract by enum bk_strategy; entry 0 is "". Ends with NULL. */
extern const char *const bk_strategy_names[];

typedef struct bk_decision {
    int strategy; /* enum bk_strategy */
    bk_tri wire_side;
    bk_qty main_stent_mm, side_stent_mm, pot_balloon_mm;     /* nominal diameters */
    bk_qty landing_proximal_mm, landing_distal_mm; /* of the main stent, from the branch point */
    int guide_french; /* BK_INTEGER_ABSENT: not said */
} bk_decision;

/* The kidney after contrast; the baseline is the creatinine of the patient. */
typedef struct bk_kidney_after {
    bk_qty creatinine_mg_dl, creatinine_umol_l; /* at most one */
    bk_qty creatinine_hours;                    /* from the procedure to that sample */
    bk_qty urine_ml_kg_h, urine_hours;
    bk_tri renal_replacement;
} bk_kidney_after;

typedef struct bk_bleeding_after {
    bk_tri overt, actionable, tamponade, surgery_for_control, vasoactive_drugs;
    bk_tri intracranial, intraocular, bypass_related;
    int fatal; /* enum bk_fatal */
    bk_qty haemoglobin_drop_g_dl;
    int transfused_units;
} bk_bleeding_after;
enum bk_fatal { BK_FATAL_NOT_SAID, BK_FATAL_NO, BK_FATAL_PROBABLE, BK_FATAL_DEFINITE };

typedef struct bk_thrombosis_after {
    bk_tri thrombus_by_angiography, acute_ischaemia, thrombus_by_pathology;
    bk_tri unexplained_death, infarction_in_territory;
    bk_qty hours_after;
    int stent; /* enum bk_stent_place */
} bk_thrombosis_after;
enum bk_stent_place { BK_STENT_PLACE_NOT_SAID, BK_STENT_MAIN, BK_STENT_SIDE };

typedef struct bk_injury_input {
    bk_qty troponin_baseline_x, troponin_peak_x;
    int baseline_course;
    bk_qty ckmb_baseline_x, ckmb_peak_x;
    bk_tri new_q_waves, new_lbbb, ecg_ischaemia;
    bk_qty st_shift_mm;
    bk_tri imaging_loss, side_branch_occluded;
    bk_qty side_branch_reference_mm;
    int side_branch_timi_before, side_branch_timi_after_stent, side_branch_timi_final;
    bk_qty occlusion_minutes;
    int dissection_grade;
    bk_tri flow_limiting_complication, heart_failure_or_hypotension;
    bk_qty hours_after;
    bk_kidney_after kidney;
    bk_bleeding_after bleeding;
    bk_thrombosis_after thrombosis;
} bk_injury_input;

enum bk_limb_treatment { BK_TREATMENT_NOT_SAID, BK_TREATED_STENT, BK_TREATED_BALLOON, BK_NOT_TREATED };

typedef struct bk_limb_result {
    int timi, treatment; /* enum bk_limb_treatment */
    bk_qty stenosis_pct, ostium_stenosis_pct;
    bk_qty edge_dissection_deg, edge_plaque_pct; /* by imaging, beside the stent in this limb */
} bk_limb_result;

typedef struct bk_segments_result {
    bk_limb_result proximal, distal, side;
} bk_segments_result;

typedef struct bk_result_input {
    bk_segments_result segments;
    int dissection_grade;
    bk_tri wires_out, death, infarction, revascularisation, stroke, bypass_surgery;
} bk_result_input;

/* ---- the document ---- */

typedef struct bk_case {
    char schema[24], case_id[48], created_with[48];
    int revision;
    bk_patient patient;
    bk_anatomy_input anatomy;
    bk_indication_input indication;
    bk_list physiology;          /* of bk_physiology */
    bk_list imaging;             /* of bk_imaging */
    const bk_json *measurements; /* documents, passed through; read with bk_measured_fields */
    const bk_json *solid;        /* document, passed through; read with bk_solid_fields */
    char shelf[48];
    bk_decision decision;
    bk_procedure procedure;
    const bk_json *log; /* events: what was used is read from it, the answers it froze are not */
    bk_list labs;       /* of bk_lab */
    bk_injury_input injury;
    bk_result_input result;
} bk_case;

extern const bk_field bk_patient_fields[], bk_limb_fields[], bk_anatomy_fields[];
extern const bk_field bk_indication_fields[];
extern const bk_field bk_physiology_fields[], bk_imaging_fields[], bk_lab_fields[];
extern const bk_field bk_decision_fields[], bk_procedure_fields[], bk_injury_fields[], bk_result_fields[];
extern const bk_field bk_case_fields[];

/* Words shared by several tables. */
extern const char *const bk_stage_words[]; /* "", baseline, predilated, stented, final, other */
enum bk_stage {
    BK_STAGE_NOT_SAID,
    BK_STAGE_BASELINE,
    BK_STAGE_PREDILATED,
    BK_STAGE_STENTED,
    BK_STAGE_FINAL,
    BK_STAGE_OTHER
};

#endif
