/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the two files of `ask indication`. */
#ifndef BK_APP_ASK_INDICATION_H
#define BK_APP_ASK_INDICATION_H

#include "app/answer.h"

/* A pressure reading before stenting and the line it is compared with. */
typedef struct bk_pressure_read {
    const bk_physiology *p; /* NULL: none */
    const char *line_row;
    bool at_or_below;
} bk_pressure_read;

/** The last reading before stenting in a limb (BK_LIMBS: in any). */
bk_pressure_read bk_indication_pressure(const bk_case *c, int limb);

/** Is a heart team asked by row indication_heart_team? */
bk_tri bk_indication_heart_team_asked(const bk_case *c);

/** Largest stenosis of the three limbs; NaN: none known. */
double bk_indication_tightest_pct(const bk_facts *facts);

/** Key open_questions. computed_ffr: of the distal main vessel, NULL when it cannot be said. */
void bk_indication_put_questions(const bk_asked *asked, const bk_json *computed_ffr, bk_answer *answer);

#endif
