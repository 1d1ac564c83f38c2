/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Parts of branchkeep.views/1. Private to app/views*.c */
#ifndef BK_APP_VIEWS_JSON_H
#define BK_APP_VIEWS_JSON_H

#include "app/answer.h"
#include "core/anatomy/space/position.h"
#include "core/anatomy/space/second_view.h"
#include "core/anatomy/space/views.h"

/** {"proximal":..,"distal":..,"side":..} */
bk_json *bk_limbs_json(const double value[BK_LIMBS], int decimals);

/** best[], purposes[], map. */
void bk_views_json_fill(bk_json *object, const bk_views_input *input, const bk_views *views);

/** What one view leaves open: second_view, price; with its missing entry, cautions and sources. */
void bk_views_one_fill(bk_answer *answer, const bk_json *measurement, const double primary_reach[2], const double secondary_reach[2],
                       bk_second_view *second, bool *second_known);

#endif
