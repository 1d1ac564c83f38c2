/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>

#include "app/answers.h"
#include "app/app.h"
#include "base/format.h"
#include "base/number.h"
#include "core/plan/sizing.h"

#define BK_CHECK_LABEL "label maxima by stent class are not verified here: check the label of the stent in hand"

static const char *const limb_words[BK_LIMBS] = {"proximal main", "distal main", "side branch"};

/* "distal main reference 2.93 +- 0.06 mm (measured): nominal 3.00; 2.75 would also fit its 90 % interval" */
static void put_why(bk_json *item, const bk_device_size *size, int use)
{
    char text[240], value[BK_NUMBER_TEXT], sd[BK_NUMBER_TEXT], low[BK_NUMBER_TEXT], high[BK_NUMBER_TEXT];
    if (!isfinite(size->diameter_mm)) {
        bk_format(text, sizeof text, "cannot say: the %s reference is missing", limb_words[size->limb]);
        bk_json_put_text(item, "why", text);
        return;
    }
    const bool has_sd = isfinite(size->reference.sd), settled = isnan(size->low_mm) || size->low_mm == size->high_mm;
    bk_format(text, sizeof text, "%s reference %s%s%s mm (%s)%s", limb_words[size->limb],
              bk_number_fixed(value, size->reference.value, 2), has_sd ? " \u00b1 " : "",
              has_sd ? bk_number_fixed(sd, size->reference.sd, 2) : "", bk_origin_name(size->reference.origin),
              use == BK_PREDILATATION ? ", at or below it" : ", 1:1");
    bk_json_put_text(item, "why", text);
    if (settled) {
        bk_json_put_null(item, "also_mm");
        return;
    }
    bk_format(text, sizeof text, "%s to %s", bk_number_fixed(low, size->low_mm, 2), bk_number_fixed(high, size->high_mm, 2));
    bk_json_put_text(item, "also_mm", text);
}

static bk_json *item_json(const bk_sizing *sizing, int use)
{
    const bk_device_size *size = &sizing->item[use];
    bk_json *item = bk_json_object();
    bk_json_put_text(item, "use", bk_use_name(use));
    bk_json_put_fixed(item, "diameter_mm", size->diameter_mm, 2);
    bk_json_put_fixed(item, "length_mm", use == BK_MAIN_STENT ? sizing->length_mm : (double)NAN, 1);
    bk_json_put_null(item, "pressure_atm"); /* needs the device's own table */
    put_why(item, size, use);
    bk_json_put(item, "shelf_match", bk_json_array());
    bk_json_put_text(item, "hold", use == BK_MAIN_STENT ? sizing->length_hold : NULL);
    return item;
}

static void put_kissing(bk_json *out, const bk_sizing *sizing)
{
    if (!sizing->has_kissing) {
        bk_json_put_null(out, "kissing");
        return;
    }
    const double axes[2] = {sizing->kissing.long_axis_mm, sizing->kissing.short_axis_mm};
    bk_json *kissing = bk_json_object();
    bk_json_put_fixed(kissing, "lumped_diameter_mm", sizing->kissing.lumped_diameter_mm, 3);
    bk_json_put_fixed(kissing, "perimeter_diameter_mm", sizing->kissing.perimeter_diameter_mm, 3);
    bk_json_put_reals(kissing, "axes_mm", axes, 2, 3);
    bk_json_put_fixed(kissing, "ellipticity", sizing->kissing.ellipticity, 3);
    bk_json_put(out, "kissing", kissing);
}

static void put_sources(bk_json *out, const bk_sizing *sizing)
{
    bk_json *sources = bk_json_array();
    for (int use = 0; use < BK_USES; use++)
        bk_answer_source(sources, sizing->item[use].evidence_id);
    bk_answer_source(sources, BK_EVIDENCE("pot_not_over_carina"));
    bk_answer_source(sources, BK_EVIDENCE("kissing_geometry"));
    bk_answer_source(sources, BK_EVIDENCE("kissing_minimal_overlap"));
    bk_answer_source(sources, BK_EVIDENCE("law_fractal"));
    bk_answer_source(sources, BK_EVIDENCE("size_step"));
    if (sizing->platform_id)
        bk_answer_source(sources, sizing->platform_id);
    bk_json_put(out, "sources", sources);
}

static bk_json *cautions_json(const bk_case *c, const bk_facts *facts, const bk_sizing *sizing)
{
    bk_json *cautions = bk_json_array();
    char text[200], value[BK_NUMBER_TEXT], low[BK_NUMBER_TEXT], high[BK_NUMBER_TEXT];
    bk_json_push(cautions, bk_json_new_text(bk_caution));
    if (c->decision.strategy == BK_STRATEGY_NOT_SAID)
        bk_json_push(cautions, bk_json_new_text("no strategy is decided and this version does not rank them: provisional is assumed"));
    if (sizing->platform_id) {
        const bk_evidence_set *evidence = bk_evidence_builtin();
        bk_format(text, sizeof text, "proximal reference %s mm against a label maximum of %s to %s mm for this stent class",
                  bk_number_fixed(value, facts->limb[BK_PROXIMAL].reference_mm.q.value, 2),
                  bk_number_fixed(low, bk_evidence_low(evidence, sizing->platform_id), 2),
                  bk_number_fixed(high, bk_evidence_high(evidence, sizing->platform_id), 2));
        if (sizing->platform_short)
            bk_json_push(cautions, bk_json_new_text(text));
        bk_json_push(cautions, bk_json_new_text(BK_CHECK_LABEL));
    }
    if (sizing->has_kissing)
        bk_json_push(cautions, bk_json_new_text("the kissing belt is an upper bound, true only where both balloons overlap: keep the overlap short, then POT again"));
    if (facts->agreement == BK_DISAGREE)
        bk_json_push(cautions, bk_json_new_text("the routes to the scale disagree: no size in mm is safe before that is settled"));
    return cautions;
}

bk_status bk_answer_devices(const bk_case *c, const bk_facts *facts, bk_json *out, bk_err *err)
{
    (void)err;
    const bk_evidence_set *evidence = bk_evidence_builtin();
    const bk_sizing sizing = bk_sizing_find(facts, evidence);
    bk_json *inputs = bk_json_array(), *missing = bk_json_array(), *items = bk_json_array();
    char name[64];
    for (int limb = 0; limb < BK_LIMBS; limb++) {
        const bk_qty q = facts->limb[limb].reference_mm.q;
        bk_format(name, sizeof name, "segments.%s.reference_mm", bk_limb_names[limb]);
        if (bk_has(q))
            bk_answer_input(inputs, name, q, "mm");
        else
            bk_answer_missing(missing, name, "every size that rests on this reference; measure it or enter it");
    }
    if (sizing.length_hold)
        bk_answer_missing(missing, "solid", "the stent's length: lengths in space from a second view at least 30 degrees away");
    for (int use = 0; use < BK_USES; use++)
        bk_json_push(items, item_json(&sizing, use));
    const int strategy = c->decision.strategy == BK_STRATEGY_NOT_SAID ? BK_PROVISIONAL : c->decision.strategy;
    bk_json_put(out, "inputs", inputs);
    bk_json_put(out, "missing", missing);
    bk_json_put_text(out, "strategy", bk_strategy_names[strategy]);
    bk_json_put(out, "items", items);
    put_kissing(out, &sizing);
    bk_json_put_null(out, "guide"); /* guide fit comes with the shelf */
    put_sources(out, &sizing);
    bk_json_put(out, "cautions", cautions_json(c, facts, &sizing));
    return BK_OK;
}
