/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The parts of `ask budget`, one function each; every one lists the rows it rests on and names what is
 * missing. */
#ifndef BK_APP_ASK_BUDGET_H
#define BK_APP_ASK_BUDGET_H

#include "app/ask_patient.h"

/** Why no limit can be given, for a kidney whose no_formula is set. */
const char *bk_budget_no_formula(const bk_patient *patient);
bk_json *bk_budget_contrast(const bk_patient_asked *in, bk_answer *answer);
bk_json *bk_budget_radiation(const bk_patient_asked *in, bk_answer *answer);
bk_json *bk_budget_heparin(const bk_patient_asked *in, bk_answer *answer);
/** Doses of the other parenteral drugs. */
bk_json *bk_budget_drugs(const bk_patient_asked *in, bk_answer *answer);
bk_json *bk_budget_bleeding(const bk_patient_asked *in, bk_answer *answer);
bk_json *bk_budget_antiplatelet(const bk_patient_asked *in, bk_answer *answer);
/** Points tables for kidney injury. */
bk_json *bk_budget_kidney_scores(const bk_patient_asked *in, bk_answer *answer);

#endif
