/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/alerts.h"

#include <math.h>

#include "core/plan/sizing.h"

const char *const bk_alert_names[BK_ALERTS] = {"do_not_pull",  "second_layer", "platform", "pair_fit",    "act_100",
                                               "contrast_100", "dose_100",     "act_75",   "contrast_75", "dose_75"};
const char *const bk_alert_rows[BK_ALERTS] = {
    BK_EVIDENCE("alert_do_not_pull"), BK_EVIDENCE("alert_second_layer"), BK_EVIDENCE("alert_platform"), BK_EVIDENCE("alert_pair_fit"),
    BK_EVIDENCE("alert_act_100"),     BK_EVIDENCE("alert_contrast_100"), BK_EVIDENCE("alert_dose_100"), BK_EVIDENCE("alert_act_75"),
    BK_EVIDENCE("alert_contrast_75"), BK_EVIDENCE("alert_dose_75")};

/* Is the biggest main balloon, used or planned, beyond every class of stent that comes in the nominal size? */
static bool beyond_platform(const bk_alert_input *in, double *need_mm)
{
    const bk_progress *p = in->progress;
    bk_platform platform[BK_PLATFORMS_MAX];
    if (p->main_stents == 0)
        return false;
    *need_mm = p->pot_since_stent ? p->biggest_main_mm : fmax(p->biggest_main_mm, in->pot_mm);
    const size_t n = bk_platforms_for(in->evidence, p->main_stent_mm, *need_mm, platform);
    size_t above = 0;
    for (size_t i = 0; i < n; i++)
        above += platform[i].verdict == BK_PLATFORM_ABOVE;
    return n > 0 && above == n;
}

/* Only at or past a line, and the higher line takes the lower one's place. */
static void budget(bk_alerts *out, double used_pct, bk_alert_id at_75, bk_alert_id at_100)
{
    out->on[at_100] = used_pct >= 100;
    out->on[at_75] = used_pct >= 75 && !out->on[at_100];
}

bk_alerts bk_alerts_find(const bk_alert_input *in)
{
    const bk_progress *p = in->progress;
    bk_alerts out = {.to_come = bk_progress_to_come(p, in->strategy), .platform_need_mm = (double)NAN};
    const int stents_to_come = p->main_stents > 0 && in->strategy->second_stent && p->side_stents == 0;
    /* before the main stent the wire protects nothing yet, and a wire through the struts keeps the way */
    out.on[BK_ALERT_DO_NOT_PULL] = p->crossing_stents > 0 && p->side_jailed + p->side_wires == 1 && p->side_through == 0 &&
                                   out.to_come != BK_NOTHING_TO_COME && !p->kit_ready && !p->side_done;
    out.on[BK_ALERT_SECOND_LAYER] = !p->main_done && ((p->side_jailed > 0 && p->crossing_stents > 0 && stents_to_come) ||
                                                      (p->side_jailed > 0 && p->crossing_stents > 1) || p->main_jailed > 0);
    out.on[BK_ALERT_PLATFORM] = beyond_platform(in, &out.platform_need_mm);
    out.on[BK_ALERT_PAIR_FIT] = in->pair_too_big == BK_YES;
    budget(&out, in->used.act_pct, BK_ALERT_ACT_75, BK_ALERT_ACT_100);
    budget(&out, in->used.contrast_pct, BK_ALERT_CONTRAST_75, BK_ALERT_CONTRAST_100);
    budget(&out, in->used.dose_pct, BK_ALERT_DOSE_75, BK_ALERT_DOSE_100);
    return out;
}

bool bk_alert_spoken(bk_alert_id alert, bk_phase phase)
{
    return phase == BK_PHASE_CALM || alert == BK_ALERT_DO_NOT_PULL;
}
