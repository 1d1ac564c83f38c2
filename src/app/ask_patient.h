/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the topics about the patient share: the kidney, what was used, and questions about values that look
   like another unit. */
#ifndef BK_APP_ASK_PATIENT_H
#define BK_APP_ASK_PATIENT_H

#include "app/live.h"
#include "core/patient/kidney.h"
#include "core/patient/scores.h"

typedef struct bk_patient_asked {
    const bk_case *c;
    const bk_facts *facts;
    bk_kidney kidney;
    double age_y, weight_kg, haemoglobin_g_dl; /* NaN: not said */
    bk_live live;
} bk_patient_asked;

/** Gather them; inputs that were used are listed in the answer. */
bk_patient_asked bk_patient_asked_of(const bk_asked *asked, bk_answer *answer);

/** Words of enum bk_presentation; "" when not said. */
const char *bk_presentation_name(int presentation);
/** Is an infarction running: nstemi, stemi, shock or arrest? */
bool bk_infarction_running(int presentation);

/** The row of an id given by BK_EVIDENCE. */
const bk_evidence *bk_patient_row(const char *id);
/** {name, text, standing, source} of a row, pushed to an array; the row is listed among the sources. */
void bk_patient_push_row(bk_json *array, const char *id, bk_answer *answer);
/** Items of a points table; their rows are listed, and those that are not known are named as missing. */
bk_json *bk_patient_score_items(const bk_score *score, bk_answer *answer);
/** Questions about values that can be meant but look like another unit, or contradict each other; texts. */
bk_json *bk_patient_questions(const bk_patient_asked *in);

#endif
