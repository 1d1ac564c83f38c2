/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the files of `ask devices`. */
#ifndef BK_APP_ASK_DEVICES_H
#define BK_APP_ASK_DEVICES_H

#include "app/answer.h"
#include "core/plan/guide_states.h"

void bk_devices_note_inputs(const bk_case *c, const bk_facts *facts, const bk_devices *devices,
                            bk_answer *answer);
void bk_devices_note_missing(const bk_case *c, const bk_facts *facts, const bk_devices *devices,
                             bk_answer *answer);
void bk_devices_note_cautions(const bk_case *c, const bk_facts *facts, const bk_devices *devices,
                              bk_answer *answer);
void bk_devices_note_sources(const bk_facts *facts, const bk_devices *devices, bk_answer *answer);

/* Everything that was worked out. */
typedef struct bk_devices_view {
    const bk_asked *asked;
    const bk_devices *devices;
    const bk_chosen *chosen;
    const bk_guide *guide;
} bk_devices_view;

/* ask_devices_shelf.c: length (but of the main stent), pressure, shortfall in the vessel, what is on the
 * shelf */
void bk_devices_put_shelf(bk_json *item, const bk_devices_view *view, const bk_device *device);
/** Items of the kit that has no size from a reference: guide, wire, microcatheter. */
void bk_devices_push_kit(bk_json *items, const bk_devices_view *view);
void bk_devices_note_shelf(const bk_devices_view *view, bk_answer *answer);
/** {"low","high"} with two decimals. */
void bk_devices_put_span(bk_json *object, const char *key, double low, double high);

/* ask_devices_guide.c */
/** Size of the guide in use; 0: not said. */
int bk_devices_decided_french(const bk_devices_view *view);
bk_json *bk_devices_guide_json(const bk_devices_view *view);
void bk_devices_note_guide(const bk_devices_view *view, bk_answer *answer);

/* ask_devices_beside.c: what stands beside the sizes: imaging, calcium, alarms, kissing against the platform
 */
void bk_devices_put_imaging(bk_json *item, const bk_devices_view *view, const bk_device *device);
void bk_devices_put_beside(const bk_devices_view *view, bk_answer *answer);
void bk_devices_put_kissing_platform(bk_json *kissing, const bk_devices_view *view);

#endif
