/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What can be written into the log of a procedure: a closed list of events, each with the keys it needs and takes. */
#ifndef BK_CORE_PLAN_EVENTS_H
#define BK_CORE_PLAN_EVENTS_H

#include "base/field.h"

typedef enum bk_event_id {
    BK_EVENT_NONE,
    BK_EVENT_WIRE_IN,
    BK_EVENT_WIRE_OUT,
    BK_EVENT_RECROSS_START,
    BK_EVENT_RECROSS,
    BK_EVENT_RECROSS_FAILED,
    BK_EVENT_JAILED_BALLOON_IN,
    BK_EVENT_JAILED_BALLOON_OUT,
    BK_EVENT_BALLOON,
    BK_EVENT_STENT,
    BK_EVENT_POT,
    BK_EVENT_KISSING,
    BK_EVENT_DEFLATED,
    BK_EVENT_KIT_READY,
    BK_EVENT_MAIN_DONE,
    BK_EVENT_SIDE_DONE,
    BK_EVENT_CONTRAST,
    BK_EVENT_DOSE,
    BK_EVENT_ACT,
    BK_EVENT_HEPARIN,
    BK_EVENT_DRUG,
    BK_EVENT_TIMI,
    BK_EVENT_PAIN,
    BK_EVENT_ECG,
    BK_EVENT_DISSECTION,
    BK_EVENT_DECISION,
    BK_EVENT_SILENCE,
    BK_EVENT_NOTE,
    BK_EVENT_UNDO,
    BK_EVENTS
} bk_event_id;

enum bk_event_limb { BK_EVENT_LIMB_NOT_SAID, BK_EVENT_MAIN, BK_EVENT_PROXIMAL, BK_EVENT_DISTAL, BK_EVENT_SIDE };
enum bk_event_which { BK_WHICH_NOT_SAID, BK_WHICH_JAILED, BK_WHICH_THROUGH };

typedef struct bk_event {
    int event; /* bk_event_id */
    char at[40];
    int limb, which, cell, type, level, change;
    bk_tri crosses; /* a stent: over the mouth of the other daughter */
    int grade, n;
    double diameter_mm, length_mm, main_mm, side_mm, atm, s;
    double ml, air_kerma_gy, kerma_area_gy_cm2, kerma_area_dgy_cm2, fluoroscopy_min, units, amount;
    char name[48], unit[16], about[32], alert[32], text[200];
    const bk_json *shown; /* the answer that was on the screen at a decision: a record */
} bk_event;

extern const bk_field bk_event_fields[];

/** Id of an event as it is written; "" for BK_EVENT_NONE. */
const char *bk_event_name(bk_event_id event);

/**
 * Read an entry and check that it has what its event needs and nothing that it does not take.
 * Errors: BK_E_DATA in one line; an unknown event names the nearest known one.
 */
bk_status bk_event_read(const bk_json *entry, bk_arena *arena, bk_event *out, bk_err *err) BK_MUST_CHECK;

/** Mark the entries (of n) that a later undo took back, from the end: an undo can be undone itself. void_of: n. */
void bk_events_void(const bk_event *events, size_t n, bool *void_of);

/** Append one object an event to array: topic "log", name, needs, takes, and each key as `fields` lists it. */
void bk_events_list(bk_json *array);

#endif
