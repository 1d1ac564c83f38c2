/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The frame that every answer has (contract: branchkeep.answer/1): topic, engine, inputs, missing, the
   topic's own keys, sources, cautions. Inputs, sources and cautions given twice are listed once. */
#ifndef BK_APP_ANSWER_H
#define BK_APP_ANSWER_H

#include "base/evidence.h"
#include "base/json.h"
#include "core/plan/shelf.h"
#include "core/flow/territory.h"
#include "core/risk/tests.h"

typedef struct bk_answer {
    bk_json *json;
    bk_json *inputs, *missing;   /* members of json */
    bk_json *sources, *cautions; /* put behind the topic's keys by bk_answer_finish */
} bk_answer;

bk_answer bk_answer_start(const char *topic);
/** Put sources and cautions behind the topic's keys. The JSON is owned by the caller. */
bk_json *bk_answer_finish(bk_answer *answer);

/** An input that was used; an absent one is passed over. measurement: index shown as "measurements.N". */
void bk_answer_input(bk_answer *answer, const char *name, const bk_fact *fact, const char *unit,
                     ptrdiff_t measurement);
void bk_answer_input_text(bk_answer *answer, const char *name, const char *value, const char *origin);
void bk_answer_missing(bk_answer *answer, const char *name, const char *why);
/** An evidence row the answer rests on; id by BK_EVIDENCE("..."). */
void bk_answer_source(bk_answer *answer, const char *id);
void bk_answer_caution(bk_answer *answer, const char *format, ...) BK_PRINTF(2, 3);

/* ---- one function a topic, in ask_<topic>.c: fills its own keys and what stands around them ---- */

/* What is asked about. */
typedef struct bk_asked {
    const bk_case *c;
    const bk_facts *facts;
    bk_sampling sampling;
    bool samples_said; /* else a topic may draw fewer than the default */
    const bk_stock *stock; /* of the file given, else the built-in list that the case names */
    bool stocked;          /* false: there is no list of that name, and stock is empty */
} bk_asked;

void bk_answer_budget(const bk_asked *asked, bk_answer *answer);
void bk_answer_devices(const bk_asked *asked, bk_answer *answer);
void bk_answer_flow(const bk_asked *asked, bk_answer *answer);
void bk_answer_indication(const bk_asked *asked, bk_answer *answer);
void bk_answer_injury(const bk_asked *asked, bk_answer *answer);
void bk_answer_pause(const bk_asked *asked, bk_answer *answer);
void bk_answer_protect(const bk_asked *asked, bk_answer *answer);
void bk_answer_result(const bk_asked *asked, bk_answer *answer);
void bk_answer_risk(const bk_asked *asked, bk_answer *answer);
void bk_answer_steps(const bk_asked *asked, bk_answer *answer);
void bk_answer_strategies(const bk_asked *asked, bk_answer *answer);
void bk_answer_territory(const bk_asked *asked, bk_answer *answer);

/** Grams or percent of muscle with their interval; null when not known. In ask_territory.c. */
bk_json *bk_mass_json(const bk_mass *mass);

/** An evidence row with all its cells, as `branchkeep evidence` shows it. */
bk_json *bk_evidence_json(const bk_evidence *row);

#endif
