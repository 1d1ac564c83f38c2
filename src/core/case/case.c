/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/case/case.h"

const char *const bk_strategy_names[] = {"",
                                         "provisional",
                                         "provisional_wire",
                                         "jailed_balloon",
                                         "kissing_predilatation",
                                         "inverted",
                                         "single_limb",
                                         "dcb_side",
                                         "t",
                                         "tap",
                                         "culotte",
                                         "dk_culotte",
                                         "dk_crush",
                                         NULL};

const bk_field bk_decision_fields[] = {
    {BK_ROW_CHOICE(bk_decision, strategy, bk_strategy_names, "strategy decided on")},
    {BK_ROW_TRI(bk_decision, wire_side, "a wire is laid into the side branch")},
    {BK_ROW_QTY(bk_decision, main_stent_mm, "mm", 1.5, 7, BK_ENTERED, "nominal diameter of the main stent")},
    {BK_ROW_QTY(bk_decision, side_stent_mm, "mm", 1.5, 7, BK_ENTERED, "nominal diameter of the stent in the other daughter")},
    {BK_ROW_QTY(bk_decision, pot_balloon_mm, "mm", 1.5, 8, BK_ENTERED, "nominal diameter of the balloon for the proximal optimisation")},
    {BK_ROW_QTY(bk_decision, landing_proximal_mm, "mm", 0, 60, BK_ENTERED, "main stent, from the branch point back into the proximal main vessel")},
    {BK_ROW_QTY(bk_decision, landing_distal_mm, "mm", 0, 80, BK_ENTERED, "main stent, from the branch point into the daughter it goes into")},
    {BK_ROW_INTEGER(bk_decision, guide_french, 5, 8, "size of the guide in use, French")},
    {0},
};

#define KEPT_BY_PROGRAM "the program itself"

const bk_field bk_case_fields[] = {
    {BK_ROW_TEXT(bk_case, schema, "branchkeep.case/1"), .set_by = KEPT_BY_PROGRAM},
    {BK_ROW_TEXT(bk_case, case_id, "id of the case; holds no identifier of the patient")},
    {BK_ROW_INTEGER(bk_case, revision, 0, 1e9, "grows by one with every change"), .set_by = KEPT_BY_PROGRAM},
    {BK_ROW_TEXT(bk_case, created_with, "program and version that made the document"),
     .set_by = KEPT_BY_PROGRAM},
    {BK_ROW_OBJECT(bk_case, patient, bk_patient, bk_patient_fields, "the patient")},
    {BK_ROW_OBJECT(bk_case, anatomy, bk_anatomy_input, bk_anatomy_fields, "the bifurcation, as entered")},
    {BK_ROW_OBJECT(bk_case, indication, bk_indication_input, bk_indication_fields, "what speaks for treating at all")},
    {BK_ROW_LIST(bk_case, physiology, bk_physiology, bk_physiology_fields, "pressure wire readings")},
    {BK_ROW_LIST(bk_case, imaging, bk_imaging, bk_imaging_fields, "intravascular imaging")},
    {BK_ROW_JSON(bk_case, measurements, "branchkeep.measurement/1 documents"), .set_by = "case --add"},
    {BK_ROW_JSON(bk_case, solid, "branchkeep.solid/1 document"), .set_by = "case --add"},
    {BK_ROW_TEXT(bk_case, shelf, "stock list to choose from")},
    {BK_ROW_OBJECT(bk_case, decision, bk_decision, bk_decision_fields, "what the operator decided")},
    {BK_ROW_OBJECT(bk_case, procedure, bk_procedure, bk_procedure_fields, "what is given and used while it runs")},
    {BK_ROW_JSON(bk_case, log, "events of the procedure; the answers it froze are a record, never an input"),
     .set_by = "the log command"},
    {BK_ROW_LIST(bk_case, labs, bk_lab, bk_lab_fields, "laboratory values")},
    {BK_ROW_OBJECT(bk_case, injury, bk_injury_input, bk_injury_fields, "what is known about injury")},
    {BK_ROW_OBJECT(bk_case, result, bk_result_input, bk_result_fields, "the result")},
    {0},
};
