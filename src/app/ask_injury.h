/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The parts of `ask injury`. */
#ifndef BK_APP_ASK_INJURY_H
#define BK_APP_ASK_INJURY_H

#include "app/ask_patient.h"
#include "core/outcome/injury.h"
#include "core/outcome/labs.h"

/* The injury of a case with what labs and log add where nothing was entered. */
typedef struct bk_injury_asked {
    bk_patient_asked patient;
    bk_injury_input in;
    bk_injury_facts facts;
    bk_lab_marker troponin;
    double ended_min;    /* end of the procedure; NaN: not known */
    double before_mg_dl; /* creatinine before; NaN: not known */
} bk_injury_asked;

bk_json *bk_injury_kidney(const bk_injury_asked *in, bk_answer *answer);
bk_json *bk_injury_territory(const bk_injury_asked *in, bk_answer *answer);
/** What is done when after the procedure; array of {id, when, what, why, source, standing}. */
bk_json *bk_follow_up(const bk_injury_asked *in, bk_answer *answer);

#endif
