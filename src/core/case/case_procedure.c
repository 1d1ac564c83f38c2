/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Field table of the procedure while it runs. Totals entered here stand where the log has no such event. */
#include "core/case/case.h"

static const char *const family_words[] = {"", "low_reading", "high_reading", NULL};
static const char *const anticoagulant_words[] = {"", "none", "heparin", "enoxaparin", "fondaparinux", NULL};

static const char *const rule_words[] = {"", "max_dose_5kg_per_scr", "two_crcl", "three_crcl", "three_seven_crcl", "egfr_1_78", NULL};

const bk_field bk_procedure_fields[] = {
    {BK_ROW_TEXT(bk_procedure, ended_at,
                 "end of the procedure, ISO 8601; laboratory values after it are 'after'")},
    {BK_ROW_QTY(bk_procedure, iodine_mg_ml, "mg/mL", 100, 450, BK_ENTERED, "iodine in the contrast agent")},
    {BK_ROW_QTY(bk_procedure, contrast_ml, "mL", 0, 2000, BK_ENTERED,
                "contrast used so far, diagnostic angiogram of the day included")},
    {BK_ROW_CHOICE(bk_procedure, contrast_rule, rule_words, "contrast limit that the team goes by; the live log warns at 75 and 100 % of it")},
    {BK_ROW_QTY(bk_procedure, air_kerma_gy, "Gy", 0, 50, BK_ENTERED,
                "air kerma at the reference point so far"),
     .hint = "a value in mGy is a thousand times that in Gy", .other_unit = "mGy", .per_other = 0.001},
    {BK_ROW_QTY(bk_procedure, kerma_area_gy_cm2, "Gy.cm2", 0, 5000, BK_ENTERED, "kerma-area product so far"),
     .one_of = "kerma_area", .hint = "the image tag is in dGy.cm2: it belongs in kerma_area_dgy_cm2"},
    {BK_ROW_QTY(bk_procedure, kerma_area_dgy_cm2, "dGy.cm2", 0, 50000, BK_ENTERED,
                "kerma-area product so far, as in the image tag"),
     .one_of = "kerma_area"},
    {BK_ROW_QTY(bk_procedure, fluoroscopy_min, "min", 0, 1000, BK_ENTERED, "fluoroscopy time so far")},
    {BK_ROW_QTY(bk_procedure, skin_dose_gy, "Gy", 0, 50, BK_ENTERED, "peak skin dose, where it is known")},
    {BK_ROW_QTY(bk_procedure, reference_distance_cm, "cm", 30, 100, BK_ENTERED,
                "tube to the reference point")},
    {BK_ROW_QTY(bk_procedure, skin_distance_cm, "cm", 30, 120, BK_ENTERED, "tube to the skin")},
    {BK_ROW_TRI(bk_procedure, table_in_beam, "the beam passes the table")},
    {BK_ROW_TRI(bk_procedure, gp_inhibitor, "GP IIb/IIIa inhibitor planned or given")},
    {BK_ROW_CHOICE(bk_procedure, act_family, family_words, "family of the ACT analyser, by how it reads")},
    {BK_ROW_CHOICE(bk_procedure, anticoagulant, anticoagulant_words, "parenteral anticoagulant before")},
    {BK_ROW_QTY(bk_procedure, act_s, "s", 50, 1500, BK_ENTERED, "last activated clotting time")},
    {BK_ROW_QTY(bk_procedure, act_minutes_ago, "min", 0, 600, BK_ENTERED, "minutes since it")},
    {BK_ROW_QTY(bk_procedure, act_interval_min, "min", 5, 120, BK_ENTERED,
                "minutes between two, as the laboratory has it")},
    {BK_ROW_QTY(bk_procedure, heparin_u, "U", 0, 60000, BK_ENTERED, "heparin given so far")},
    {BK_ROW_QTY(bk_procedure, enoxaparin_hours_ago, "h", 0, 168, BK_ENTERED,
                "hours since the last dose of enoxaparin")},
    {BK_ROW_TRI(bk_procedure, hypotension, "systolic pressure below 80 mmHg for an hour, on inotropes")},
    {BK_ROW_TRI(bk_procedure, balloon_pump, "intra-aortic balloon pump")},
    {BK_ROW_TRI(bk_procedure, stent_below_3mm, "a stent below 3 mm")},
    {BK_ROW_TRI(bk_procedure, paclitaxel_stent, "paclitaxel-eluting stent")},
    {BK_ROW_TRI(bk_procedure, vein_graft, "stent in a vein graft")},
    {0},
};
