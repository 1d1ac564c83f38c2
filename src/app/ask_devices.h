/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the two files of `ask devices`. */
#ifndef BK_APP_ASK_DEVICES_H
#define BK_APP_ASK_DEVICES_H

#include "app/answer.h"
#include "core/plan/devices.h"

void bk_devices_note_inputs(const bk_case *c, const bk_facts *facts, const bk_devices *devices,
                            bk_answer *answer);
void bk_devices_note_missing(const bk_case *c, const bk_facts *facts, const bk_devices *devices,
                             bk_answer *answer);
void bk_devices_note_cautions(const bk_case *c, const bk_facts *facts, const bk_devices *devices,
                              bk_answer *answer);
void bk_devices_note_sources(const bk_facts *facts, const bk_devices *devices, bk_answer *answer);

#endif
