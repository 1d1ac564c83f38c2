/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/progress.h"

#include <math.h>

const char *const bk_to_come_words[] = {"nothing", "the main stent and its POT", "the POT", "the POT behind the kissing balloons",
                                        "the second stent"};

bk_progress bk_progress_start(void)
{
    return (bk_progress){.main_stent_mm = (double)NAN, .biggest_main_mm = (double)NAN, .pot_since_kissing = true, .timi = {-1, -1, -1}};
}

static void take_one(int *count)
{
    if (*count > 0)
        --*count;
}

static void wire_out(bk_progress *p, const bk_event *e)
{
    if (e->limb != BK_EVENT_SIDE) {
        take_one(p->main_jailed && e->which == BK_WHICH_JAILED ? &p->main_jailed : p->main_wires ? &p->main_wires : &p->main_jailed);
        return;
    }
    if (e->which == BK_WHICH_THROUGH)
        take_one(&p->side_through);
    else if (e->which == BK_WHICH_JAILED || p->side_jailed)
        take_one(&p->side_jailed);
    else
        take_one(p->side_wires ? &p->side_wires : &p->side_through);
}

/* Culottes lay the second stent over the mouth of the first one's vessel. */
static bool lies_across(const bk_event *e, const bk_strategy_traits *strategy)
{
    if (e->crosses != BK_UNKNOWN)
        return e->crosses == BK_YES;
    return e->limb != BK_EVENT_SIDE || strategy->strategy == BK_CULOTTE || strategy->strategy == BK_DK_CULOTTE ||
           strategy->strategy == BK_INVERTED;
}

static void stent(bk_progress *p, const bk_event *e, const bk_strategy_traits *strategy)
{
    const bool across = lies_across(e, strategy);
    if (e->limb == BK_EVENT_SIDE) {
        p->side_stents++;
        if (across) {
            p->main_jailed += p->main_wires;
            p->main_wires = 0;
        }
    } else {
        p->main_stents++;
        p->main_stent_mm = e->diameter_mm;
        p->biggest_main_mm = e->diameter_mm;
        p->pot_since_stent = false;
        if (across) {
            p->crossing_stents++;
            p->side_jailed += p->side_wires + p->side_through;
            p->side_wires = p->side_through = 0;
        }
    }
}

static void inflated(bk_progress *p, const bk_event *e)
{
    const double main_mm = e->event == BK_EVENT_KISSING ? e->main_mm : e->limb == BK_EVENT_SIDE ? (double)NAN : e->diameter_mm;
    p->biggest_main_mm = fmax(p->biggest_main_mm, main_mm); /* fmax passes over a NaN */
    p->phase = isnan(e->s) ? BK_PHASE_INFLATED : BK_PHASE_CALM;
}

void bk_progress_take(bk_progress *p, const bk_event *e, const bk_strategy_traits *strategy)
{
    p->events++;
    switch ((bk_event_id)e->event) {
    case BK_EVENT_WIRE_IN: ++*(e->limb == BK_EVENT_SIDE ? &p->side_wires : &p->main_wires); break;
    case BK_EVENT_WIRE_OUT: wire_out(p, e); break;
    case BK_EVENT_RECROSS_START: p->phase = BK_PHASE_RECROSSING; break;
    case BK_EVENT_RECROSS_FAILED: p->phase = BK_PHASE_CALM; break;
    case BK_EVENT_RECROSS:
        ++*(e->limb == BK_EVENT_SIDE ? &p->side_through : &p->main_wires);
        p->phase = BK_PHASE_CALM;
        break;
    case BK_EVENT_JAILED_BALLOON_IN: p->jailed_balloon = true; break;
    case BK_EVENT_JAILED_BALLOON_OUT: p->jailed_balloon = false; break;
    case BK_EVENT_STENT:
        stent(p, e, strategy);
        p->phase = isnan(e->s) ? BK_PHASE_INFLATED : BK_PHASE_CALM;
        break;
    case BK_EVENT_POT:
        p->pot_since_stent = p->pot_since_kissing = true;
        inflated(p, e);
        break;
    case BK_EVENT_KISSING:
        p->kissed = true;
        p->pot_since_kissing = false;
        inflated(p, e);
        break;
    case BK_EVENT_BALLOON: inflated(p, e); break;
    case BK_EVENT_DEFLATED: p->phase = BK_PHASE_CALM; break;
    case BK_EVENT_KIT_READY: p->kit_ready = true; break;
    case BK_EVENT_MAIN_DONE: p->main_done = true; break;
    case BK_EVENT_SIDE_DONE: p->side_done = true; break;
    case BK_EVENT_TIMI:
        for (int limb = 0; limb < BK_LIMBS; limb++)
            if (e->limb == BK_EVENT_PROXIMAL + limb || (e->limb == BK_EVENT_MAIN && limb == BK_DISTAL))
                p->timi[limb] = e->grade;
        break;
    case BK_EVENT_NONE:
    case BK_EVENT_CONTRAST:
    case BK_EVENT_DOSE:
    case BK_EVENT_ACT:
    case BK_EVENT_HEPARIN:
    case BK_EVENT_DRUG:
    case BK_EVENT_PAIN:
    case BK_EVENT_ECG:
    case BK_EVENT_DISSECTION:
    case BK_EVENT_DECISION:
    case BK_EVENT_SILENCE:
    case BK_EVENT_NOTE:
    case BK_EVENT_UNDO:
    case BK_EVENTS: break;
    }
}

bk_to_come bk_progress_to_come(const bk_progress *p, const bk_strategy_traits *strategy)
{
    if (p->main_done)
        return BK_NOTHING_TO_COME;
    if (p->main_stents == 0)
        return BK_STENT_TO_COME;
    if (strategy->second_stent && p->side_stents == 0)
        return BK_SECOND_STENT_TO_COME;
    if (!p->pot_since_stent)
        return BK_POT_TO_COME;
    return p->kissed && !p->pot_since_kissing ? BK_POT_AGAIN_TO_COME : BK_NOTHING_TO_COME;
}
