/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Field table of what speaks for treating at all. */
#include "core/case/case.h"

static const char *const symptom_words[] = {"", "none", "exertional", "at_rest", "equivalent", NULL};
static const char *const test_words[] = {"", "not_done", "negative", "positive", "inconclusive", NULL};

const bk_field bk_indication_fields[] = {
    {BK_ROW_CHOICE(bk_indication_input, symptoms, symptom_words, "angina, or what stands for it")},
    {BK_ROW_TRI(bk_indication_input, symptoms_on_drugs, "symptoms in spite of antianginal drugs")},
    {BK_ROW_CHOICE(bk_indication_input, ischaemia_test, test_words, "non-invasive test for ischaemia")},
    {BK_ROW_QTY(bk_indication_input, ischaemic_mass_pct, "%", 0, 100, BK_ENTERED,
                "ischaemic share of the left ventricle in that test")},
    {BK_ROW_TRI(bk_indication_input, test_matches, "the ischaemia lies in the territory of this bifurcation")},
    {BK_ROW_INTEGER(bk_indication_input, diseased_vessels, 1, 3, "vessels with significant disease, the left main apart")},
    {BK_ROW_TRI(bk_indication_input, heart_team, "a decision of the heart team is recorded")},
    {BK_ROW_TRI(bk_indication_input, dapt_possible, "two antiplatelet drugs can be taken as long as planned")},
    {0},
};
