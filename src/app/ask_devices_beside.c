/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `ask devices`: what stands beside the sizes: imaging, calcium, alarms, the kissing belt against the
 * platform. */
#include <math.h>

#include "app/ask_devices.h"
#include "base/format.h"
#include "core/plan/imaging_size.h"

#define TEXT 400
static const char *const modes[] = {"imaging, mode not said", "OCT", "IVUS"};

static const bk_evidence *row(const char *id)
{
    return bk_evidence_find(bk_evidence_builtin(), id);
}

void bk_devices_put_imaging(bk_json *item, const bk_devices_view *view, const bk_device *device)
{
    const bk_imaging_size s = bk_imaging_size_of(&view->asked->c->imaging, device->by, bk_evidence_builtin());
    if (s.mode == BK_IMAGING_NOT_SAID && isnan(s.lumen_mm) && isnan(s.vessel_mm)) {
        bk_json_put_null(item, "by_imaging");
        return;
    }
    bk_json *out = bk_json_object();
    const double size = device->size.known ? device->size.nominal_mm : (double)NAN;
    const bool differs = (!isnan(s.by_lumen_mm) && fabs(s.by_lumen_mm - size) > 1e-6) ||
                         (!isnan(s.by_vessel_mm) && fabs(s.by_vessel_mm - size) > 1e-6);
    bk_json_put_text(out, "mode", modes[s.mode]);
    bk_json_put_fixed(out, "lumen_mm", s.lumen_mm, 2);
    bk_json_put_fixed(out, "vessel_mm", s.vessel_mm, 2);
    bk_json_put_fixed(out, "size_by_lumen_mm", s.by_lumen_mm, 2);
    bk_json_put_fixed(out, "size_by_vessel_mm", s.by_vessel_mm, 2);
    bk_json_put_text(out, "agrees", isnan(size) ? "unknown" : differs ? "no" : "yes");
    bk_json_put_text(out, "used", isnan(size) ? NULL : "angiography");
    bk_json_put_text(
        out, "reason",
        "the 1:1 rule for the angiographic reference was read in its source, the rules that turn an imaging "
        "area into a size were not: they stand beside, for the operator to choose");
    bk_json_put_text(out, "standing", bk_standing_name(row(BK_EVIDENCE("imaging_by_vessel"))->standing));
    bk_json_put(item, "by_imaging", out);
}

/* ---- calcium ---- */

static void push_trigger(bk_json *list, const char *id, const char *text, bk_tri met, double value,
                         double threshold, const char *source)
{
    bk_json *one = bk_json_object();
    bk_json_put_text(one, "id", id);
    bk_json_put_text(one, "text", text);
    bk_json_put_text(one, "met", bk_tri_name(met));
    bk_json_put_fixed(one, "value", value, 0);
    bk_json_put_fixed(one, "threshold", threshold, 0);
    bk_json_put_text(one, "standing", bk_standing_name(row(source)->standing));
    bk_json_push(list, one);
}

static void put_calcium(const bk_devices_view *view, bk_answer *answer)
{
    const bk_calcium_triggers t = bk_calcium_triggers_of(view->asked->c->anatomy.calcium,
                                                         &view->asked->c->imaging, bk_evidence_builtin());
    bk_json *out = bk_json_object(), *list = bk_json_array();
    push_trigger(list, "calcium_angiography",
                 "moderate or severe on the angiogram: image before the sizes are settled", t.angiography,
                 (double)NAN, (double)NAN, BK_EVIDENCE("calcium_angiography"));
    push_trigger(list, "calcium_oct", "OCT score: modify before the stent", t.oct, t.oct_score,
                 row(BK_EVIDENCE("calcium_oct_modify"))->value, BK_EVIDENCE("calcium_oct_modify"));
    push_trigger(list, "calcium_ivus", "IVUS score: modify before the stent", t.ivus, t.ivus_score,
                 row(BK_EVIDENCE("calcium_ivus_modify"))->value, BK_EVIDENCE("calcium_ivus_modify"));
    bk_json_put(out, "triggers", list);
    bk_json_put(answer->json, "calcium", out);
    if (t.angiography == BK_UNKNOWN && t.oct == BK_UNKNOWN && t.ivus == BK_UNKNOWN)
        bk_answer_missing(
            answer, "anatomy.calcium",
            "decides the kind of predilatation balloon, and whether imaging and modification come first");
    const char *const sources[] = {BK_EVIDENCE("calcium_angiography"), BK_EVIDENCE("calcium_oct_modify"),
                                   BK_EVIDENCE("calcium_ivus_modify")};
    for (size_t i = 0; i < 3; i++)
        bk_answer_source(answer, sources[i]);
}

/* ---- prompts for imaging ---- */

static void push_said(bk_json *list, const char *id, const char *text, const char *standing)
{
    bk_json *one = bk_json_object();
    bk_json_put_text(one, "id", id);
    bk_json_put_text(one, "text", text);
    bk_json_put_text(one, "standing", standing);
    bk_json_push(list, one);
}

static void put_prompts(const bk_devices_view *view, bk_answer *answer)
{
    const bk_case *c = view->asked->c;
    const double threshold = 50; // Medina's line in the contract
    bk_json *list = bk_json_array();
    if (c->imaging.n == 0 && c->anatomy.site == BK_LEFT_MAIN)
        push_said(
            list, "imaging_left_main",
            "left main: intravascular imaging before the sizes are settled; enter its areas to see both",
            bk_standing_name(row(BK_EVIDENCE("imaging_central"))->standing));
    if (c->imaging.n == 0 && bk_true_bifurcation(view->asked->facts, threshold) == BK_YES)
        push_said(list, "imaging_true_bifurcation",
                  "true bifurcation: intravascular imaging before the sizes are settled; enter its areas to "
                  "see both",
                  bk_standing_name(row(BK_EVIDENCE("imaging_guideline"))->standing));
    if (bk_json_count(list) > 0 || c->imaging.n > 0) {
        bk_answer_source(answer, BK_EVIDENCE("imaging_central"));
        bk_answer_source(answer, BK_EVIDENCE("imaging_guideline"));
    }
    if (c->imaging.n > 0) {
        bk_answer_source(answer, BK_EVIDENCE("imaging_by_vessel"));
        bk_answer_source(answer, BK_EVIDENCE("imaging_by_lumen"));
        bk_answer_source(answer, BK_EVIDENCE("imaging_vessel_over_lumen"));
    }
    bk_json_put(answer->json, "prompts", list);
}

/* ---- round balloons beyond the platform ---- */

/* The design taken, or, when the list offers none, the most that any class in this size bears. */
static bool beyond(const bk_devices_view *view, bk_use use, double *low, double *high, bool *by_class)
{
    const bk_choice *choice = &view->chosen->of[use];
    if (choice->n > 0 && choice->match[0].reach_known) {
        *low = choice->match[0].maximum_low_mm;
        *high = choice->match[0].maximum_high_mm;
        *by_class = choice->match[0].by_class;
        return choice->match[0].reach == BK_PLATFORM_ABOVE;
    }
    *by_class = true;
    *high = 0;
    for (size_t i = 0; use == BK_USE_MAIN_STENT && i < view->devices->platforms_n; i++)
        if (view->devices->platforms[i].maximum->high > *high) {
            *low = view->devices->platforms[i].maximum->low;
            *high = view->devices->platforms[i].maximum->high;
        }
    return *high > 0 && view->chosen->round_mm > *high;
}

/* The guide in use does not take what is planned. */
static void alarm_guide(const bk_devices_view *view, bk_json *list, bk_answer *answer)
{
    const int french = bk_devices_decided_french(view);
    char text[TEXT];
    for (size_t i = 0; french && i < view->guide->n; i++) {
        const bk_guide_state *state = &view->guide->states[i];
        if (state->if_needed || state->fit[french - BK_GUIDE_FROM].verdict != BK_FITS_NOT)
            continue;
        bk_format(text, sizeof text, "%s: does not go through the %d F guide in use (needs %.2f mm of %.2f)",
                  state->moment, french, state->fit[french - BK_GUIDE_FROM].needed_mm,
                  view->guide->inner_mm[french - BK_GUIDE_FROM]);
        push_said(list, "guide", text, bk_standing_name(BK_MEMORY)); // some of the profiles are from memory
        bk_answer_caution(answer, "%s.", text);
    }
}

static void put_alarms(const bk_devices_view *view, bk_answer *answer)
{
    static const bk_use stents[] = {BK_USE_MAIN_STENT, BK_USE_SIDE_STENT};
    bk_json *list = bk_json_array();
    for (int i = 0; i < 2; i++) {
        double low, high;
        bool by_class;
        char text[TEXT];
        if (!beyond(view, stents[i], &low, &high, &by_class))
            continue;
        bk_format(text, sizeof text,
                  "%s: the round balloon it must bear, %.2f mm, is above %s %.2f mm; take a larger design at "
                  "lower pressure",
                  bk_use_words[stents[i]],
                  i == 0 ? view->chosen->round_mm : view->chosen->of[BK_USE_SIDE_STENT].wish.reach_mm,
                  by_class ? "the typical label maximum of its class (from memory, check the label)"
                           : "its label maximum of",
                  high);
        push_said(list, "platform", text,
                  by_class ? "memory" : view->chosen->of[stents[i]].match[0].item->standing);
        bk_answer_caution(answer, "%s.", text);
    }
    alarm_guide(view, list, answer);
    bk_json_put(answer->json, "alarms", list);
}

void bk_devices_put_beside(const bk_devices_view *view, bk_answer *answer)
{
    put_alarms(view, answer);
    put_prompts(view, answer);
    put_calcium(view, answer);
}

void bk_devices_put_kissing_platform(bk_json *kissing, const bk_devices_view *view)
{
    const bk_choice *stent = &view->chosen->of[BK_USE_MAIN_STENT];
    if (stent->n == 0 || isnan(stent->match[0].maximum_low_mm)) {
        bk_json_put_null(kissing, "platform");
        return;
    }
    const double belt = view->devices->kissing.perimeter_diameter_mm, low = stent->match[0].maximum_low_mm,
                 high = stent->match[0].maximum_high_mm;
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "perimeter", belt <= low ? "within" : belt <= high ? "marginal" : "above");
    bk_devices_put_span(out, "maximum_mm", low, high);
    bk_json_put_text(out, "by", stent->match[0].by_class ? "class, from memory" : "label in the stock list");
    bk_json_put_text(out, "meaning", "information only: a kissing pair is no round balloon");
    bk_json_put(kissing, "platform", out);
}
