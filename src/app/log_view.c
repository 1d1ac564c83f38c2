/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/log_view.h"

#include <math.h>
#include <string.h>

#include "app/app.h"
#include "app/case.h"
#include "app/live.h"
#include "base/time.h"
#include "core/patient/contrast.h"
#include "core/patient/radiation.h"
#include "core/plan/devices.h"
#include "core/plan/fit.h"
#include "core/plan/options.h"

#define SCHEMA "branchkeep.log/1"

/* ---- replay ---- */

static bk_status read_entries(bk_log_view *v, bk_arena *arena, bk_err *err)
{
    v->n = bk_json_count(v->log);
    bk_event *events = BK_NEW(arena, v->n, bk_event, err);
    v->unreadable = BK_NEW(arena, v->n, const char *, err);
    v->undone = BK_NEW(arena, v->n, bool, err);
    if (!events || !v->unreadable || !v->undone)
        return err->status;
    for (size_t i = 0; i < v->n; i++) {
        bk_err why = {0};
        if (bk_event_read(bk_json_at(v->log, i), arena, &events[i], &why) == BK_OK)
            continue;
        const size_t room = strlen(why.message) + 1;
        char *reason = BK_NEW(arena, room, char, err);
        if (!reason)
            return err->status;
        memcpy(reason, why.message, room);
        v->unreadable[i] = reason;
        bk_fields_clear(bk_event_fields, &events[i]);
    }
    v->events = events;
    bk_events_void(events, v->n, v->undone);
    return BK_OK;
}

/* A silence is about the state it was given in: once that is over the alert may speak again. Budgets only grow, but for the
   ACT, which a new one makes young. */
static void end_silences(bk_log_view *v, const bk_event *e, double pot_mm)
{
    const double none = (double)NAN;
    const bk_alert_input in = {&v->progress, &v->strategy, {none, none, none}, pot_mm, BK_UNKNOWN, bk_evidence_builtin()};
    const bk_alerts now = bk_alerts_find(&in);
    for (int alert = 0; alert < BK_ALERTS; alert++) {
        const bool act = alert == BK_ALERT_ACT_75 || alert == BK_ALERT_ACT_100, of_state = alert < BK_ALERT_PAIR_FIT;
        if ((of_state && !now.on[alert]) || (act && e->event == BK_EVENT_ACT))
            v->silenced[alert] = NULL;
    }
}

static void replay(bk_log_view *v, double pot_mm)
{
    v->progress = bk_progress_start();
    for (size_t i = 0; i < v->n; i++) {
        const bk_event *e = &v->events[i];
        if (e->event == BK_EVENT_NONE || v->undone[i])
            continue;
        bk_progress_take(&v->progress, e, &v->strategy);
        if (e->event == BK_EVENT_SILENCE && bk_alert_find(e->alert) < BK_ALERTS)
            v->silenced[bk_alert_find(e->alert)] = e->text[0] ? e->text : "no reason given";
        end_silences(v, e, pot_mm);
    }
}

/* ---- budgets ---- */

static void find_times(bk_log_view *v, const char *now)
{
    double at;
    v->minutes_since_last = bk_time_minutes(now, &at) ? at - v->live.last_event_min : (double)NAN;
    v->act_minutes = v->live.act_minutes_ago + (isnan(v->minutes_since_last) ? 0 : fmax(v->minutes_since_last, 0));
}

static bk_budget_used find_used(bk_log_view *v, const bk_case *c)
{
    const bk_evidence_set *evidence = bk_evidence_builtin();
    const bk_dose_levels kerma = bk_dose_levels_of(BK_DOSE_KERMA, evidence);
    const double interval = bk_has(c->procedure.act_interval_min) ? c->procedure.act_interval_min.value
                                                                  : bk_evidence_value(evidence, BK_EVIDENCE("act_interval"));
    bk_budget_used used = {(double)NAN, 100 * v->live.air_kerma_gy / kerma.substantial, 100 * v->act_minutes / interval};
    const bk_kidney kidney = bk_kidney_of(&c->patient, evidence);
    bk_contrast_limit limits[BK_CONTRAST_RULES];
    bk_contrast_limits(&kidney, bk_value(c->patient.weight_kg), v->live.contrast_ml, evidence, limits);
    v->rule_chosen = c->procedure.contrast_rule > 0;
    if (v->rule_chosen)
        used.contrast_pct = limits[c->procedure.contrast_rule - 1].used_pct;
    if (!v->rule_chosen)
        bk_answer_missing(&v->answer, "procedure.contrast_rule", "which contrast limit the team goes by: without it nothing is said at 75 and 100 %");
    else if (isnan(used.contrast_pct))
        bk_answer_missing(&v->answer, "patient", "weight, age, sex and a stable creatinine: the chosen contrast limit cannot be worked out");
    if (bk_has(c->procedure.contrast_ml) && v->live.contrast_from && strcmp(v->live.contrast_from, "log") == 0)
        bk_answer_missing(&v->answer, "procedure.contrast_ml",
                          "what was entered there is not added to the log's contrast: log what was given before the log began");
    if (isnan(v->live.air_kerma_gy))
        bk_answer_missing(&v->answer, "log.dose", "no air kerma was logged: nothing is said of the skin");
    if (isnan(v->act_minutes))
        bk_answer_missing(&v->answer, "log.act", "no ACT with a time was logged: nothing is said of the next one");
    return used;
}

static double planned_pot_mm(const bk_facts *facts, const bk_case *c, int strategy)
{
    const bk_devices plan = bk_devices_plan(facts, c->anatomy.calcium, strategy, bk_evidence_builtin());
    for (size_t i = 0; i < plan.n; i++)
        if (plan.items[i].use == BK_USE_POT_BALLOON && plan.items[i].size.known)
            return plan.items[i].size.nominal_mm;
    return (double)NAN;
}

/* The pair that comes next: with a wire through the struts two balloons will lie in the guide at once, beside a wire that is still
   behind them. */
static bk_tri pair_too_big(const bk_progress *p, int guide_french)
{
    static const bk_kind pair[] = {BK_KIND_BALLOON, BK_KIND_BALLOON, BK_KIND_WIRE};
    if (guide_french == BK_INTEGER_ABSENT)
        return BK_UNKNOWN;
    if (p->main_stents == 0 || p->side_through == 0 || p->kissed || p->side_done)
        return BK_NO;
    const bk_fit fit = bk_fit_kinds(bk_evidence_builtin(), pair, p->side_jailed ? 3 : 2, guide_french);
    return fit.verdict == BK_FIT_CANNOT_SAY ? BK_UNKNOWN : fit.verdict == BK_FITS_NOT ? BK_YES : BK_NO;
}

bk_status bk_log_look(const bk_json *doc, const char *now, bk_arena *arena, bk_log_view *v, bk_err *err)
{
    bk_case c;
    bk_facts facts;
    *v = (bk_log_view){.log = bk_json_get(doc, "log"), .case_id = bk_json_text(bk_json_get(doc, "case_id"))};
    bk_status status = bk_app_case_check(doc, arena, &c, err);
    if (status == BK_OK)
        status = bk_app_case_facts(&c, arena, &facts, err);
    if (status == BK_OK)
        status = read_entries(v, arena, err);
    if (status != BK_OK)
        return status;
    const int strategy = (int)bk_options_in_view(&c, &facts, bk_evidence_builtin());
    v->strategy = bk_strategy_find(strategy);
    v->answer = bk_answer_start("log");
    const double pot_mm = planned_pot_mm(&facts, &c, strategy);
    replay(v, pot_mm);
    v->live = bk_live_of(&c, &v->answer);
    find_times(v, now);
    v->used = find_used(v, &c);
    const bk_alert_input in = {&v->progress, &v->strategy, v->used, pot_mm, pair_too_big(&v->progress, c.decision.guide_french), bk_evidence_builtin()};
    v->alerts = bk_alerts_find(&in);
    return BK_OK;
}

/* ---- JSON ---- */

static bk_json *entry_json(const bk_log_view *v, size_t i)
{
    bk_json *out = bk_json_copy(bk_json_at(v->log, i));
    if (!bk_json_is_object(out)) {
        bk_json_free(out);
        out = bk_json_object();
    }
    bk_json_drop(out, "shown"); /* long, and only a record: it stays in the case */
    bk_json_put_integer(out, "entry", (int64_t)i + 1);
    bk_json_put_bool(out, "undone", v->undone[i]);
    if (v->unreadable[i])
        bk_json_put_text(out, "unreadable", v->unreadable[i]);
    return out;
}

static bk_json *wires_json(const bk_progress *p)
{
    bk_json *out = bk_json_object(), *side = bk_json_object();
    bk_json_put_integer(out, "main", p->main_wires);
    bk_json_put_integer(out, "main_jailed", p->main_jailed);
    bk_json_put_integer(side, "free", p->side_wires);
    bk_json_put_integer(side, "jailed", p->side_jailed);
    bk_json_put_integer(side, "through", p->side_through);
    bk_json_put(out, "side", side);
    bk_json_put_bool(out, "jailed_balloon", p->jailed_balloon);
    return out;
}

static void put_grade(bk_json *to, const char *key, int grade)
{
    if (grade >= 0)
        bk_json_put_integer(to, key, grade);
    else
        bk_json_put_null(to, key);
}

static bk_json *totals_json(const bk_log_view *v)
{
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "contrast_ml", v->live.contrast_ml, 1);
    bk_json_put_fixed(out, "contrast_pct", v->used.contrast_pct, 0);
    bk_json_put_fixed(out, "air_kerma_gy", v->live.air_kerma_gy, 2);
    bk_json_put_fixed(out, "dose_pct", v->used.dose_pct, 0);
    bk_json_put_fixed(out, "heparin_u", v->live.heparin_u, 0);
    bk_json_put_fixed(out, "act_s", v->live.act_s, 0);
    bk_json_put_fixed(out, "act_minutes", v->act_minutes, 0);
    bk_json_put_fixed(out, "act_pct", v->used.act_pct, 0);
    return out;
}

static bk_json *state_json(const bk_log_view *v)
{
    const bk_progress *p = &v->progress;
    bk_json *out = bk_json_object(), *timi = bk_json_object();
    bk_json_put_text(out, "strategy", bk_strategy_names[v->strategy.strategy]);
    bk_json_put(out, "wires", wires_json(p));
    bk_json_put_integer(out, "main_stents", p->main_stents);
    bk_json_put_integer(out, "side_stents", p->side_stents);
    bk_json_put_integer(out, "layers_over_side", p->crossing_stents);
    bk_json_put_fixed(out, "main_stent_mm", p->main_stent_mm, 2);
    bk_json_put_bool(out, "pot_since_stent", p->main_stents > 0 && p->pot_since_stent);
    bk_json_put_text(out, "main_inflations_to_come", bk_to_come_words[v->alerts.to_come]);
    bk_json_put_bool(out, "recross_kit_ready", p->kit_ready);
    for (int limb = 0; limb < BK_LIMBS; limb++)
        put_grade(timi, bk_limb_name(limb), p->timi[limb]);
    bk_json_put(out, "timi", timi);
    bk_json_put_fixed(out, "side_closed_min", v->live.side_closed_min, 1);
    bk_json_put(out, "totals", totals_json(v));
    bk_json_put_fixed(out, "minutes_since_last", v->minutes_since_last, 1);
    return out;
}

static bk_json *alert_json(const bk_log_view *v, int alert, bk_answer *answer)
{
    bk_json *out = bk_json_object();
    const bk_evidence *row = bk_evidence_find(bk_evidence_builtin(), bk_alert_rows[alert]);
    bk_json_put_text(out, "id", bk_alert_names[alert]);
    bk_json_put_text(out, "name", row->name);
    bk_json_put_text(out, "text", row->text);
    if (alert == BK_ALERT_DO_NOT_PULL)
        bk_json_put_text(out, "to_come", bk_to_come_words[v->alerts.to_come]);
    if (alert == BK_ALERT_PLATFORM) {
        bk_json_put_fixed(out, "stent_mm", v->progress.main_stent_mm, 2);
        bk_json_put_fixed(out, "balloon_mm", v->alerts.platform_need_mm, 2);
    }
    bk_json_put_text(out, "source", row->id);
    bk_json_put_text(out, "standing", bk_standing_name(row->standing));
    bk_answer_source(answer, row->id);
    return out;
}

/* The one alert that is shown; the others wait, or were silenced with a reason. */
static void put_alerts(bk_log_view *v, bk_json *out)
{
    static const char *const quiet[] = {NULL, "inflation", "re-crossing"};
    bk_json *waiting = bk_json_array(), *silenced = bk_json_array(), *shown = NULL;
    for (int alert = 0; alert < BK_ALERTS; alert++) {
        if (v->silenced[alert]) {
            bk_json *row = bk_json_object();
            bk_json_put_text(row, "id", bk_alert_names[alert]);
            bk_json_put_text(row, "reason", v->silenced[alert]);
            bk_json_put_bool(row, "stands", v->alerts.on[alert]);
            bk_json_push(silenced, row);
        } else if (v->alerts.on[alert] && !shown && bk_alert_spoken((bk_alert_id)alert, v->progress.phase)) {
            shown = alert_json(v, alert, &v->answer);
        } else if (v->alerts.on[alert]) {
            bk_json_push(waiting, bk_json_new_text(bk_alert_names[alert]));
        }
    }
    bk_json_put_text(out, "quiet", quiet[v->progress.phase]);
    bk_json_put(out, "alert", shown ? shown : bk_json_new_null());
    bk_json_put(out, "waiting", waiting);
    bk_json_put(out, "silenced", silenced);
}

bk_json *bk_log_view_json(bk_log_view *v)
{
    bk_json *out = v->answer.json, *entries = bk_json_array();
    bk_json_drop(out, "topic");
    bk_json_put_text(out, "schema", SCHEMA);
    bk_json_put_text(out, "case_id", v->case_id);
    bk_json_put(out, "state", state_json(v)); /* before any advice */
    put_alerts(v, out);
    for (size_t i = 0; i < v->n; i++) {
        bk_json_push(entries, entry_json(v, i));
        if (v->unreadable[i])
            bk_answer_caution(&v->answer, "log.%zu: %s: it is not counted.", i, v->unreadable[i]);
    }
    bk_json_put(out, "entries", entries);
    bk_answer_caution(&v->answer, "The state is what the log says: look at the picture, and undo what is wrong before any advice counts.");
    return bk_answer_finish(&v->answer);
}

/* The last side wire counts also before the main stent: what pulls it is about to leave the branch bare. */
static bool bares_the_side(const bk_log_view *before, const bk_log_view *after, const bk_event *event)
{
    const bk_progress *p = &before->progress, *q = &after->progress;
    if (before->alerts.on[BK_ALERT_SIDE_FLOW])
        return event->event == BK_EVENT_WIRE_OUT && q->side_jailed < p->side_jailed;
    return event->event == BK_EVENT_WIRE_OUT && p->side_wires + p->side_jailed + p->side_through > 0 &&
           q->side_wires + q->side_jailed + q->side_through == 0 && before->alerts.to_come != BK_NOTHING_TO_COME && !p->kit_ready && !p->side_done;
}

bk_json *bk_log_next_json(bk_log_view *before, bk_log_view *after, const bk_event *event, const bk_json *entry)
{
    bk_json *brings = bk_json_array();
    if (bares_the_side(before, after, event))
        bk_json_push(brings, alert_json(before, before->alerts.on[BK_ALERT_SIDE_FLOW] ? BK_ALERT_SIDE_FLOW : BK_ALERT_DO_NOT_PULL,
                                        &before->answer));
    for (int alert = 0; alert < BK_ALERTS; alert++)
        if (after->alerts.on[alert] && !before->alerts.on[alert])
            bk_json_push(brings, alert_json(after, alert, &before->answer));
    bk_json_free(bk_answer_finish(&after->answer));
    bk_json *out = bk_log_view_json(before);
    bk_json_put(out, "about", bk_json_copy(entry));
    bk_json_put(out, "brings", brings);
    return out;
}
