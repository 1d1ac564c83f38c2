/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/measure_request.h"

#include <math.h>
#include <string.h>

#include "base/nearest.h"
#include "core/limb.h"

static const char *const keys[] = {
    "cine",     "frame",  "proximal", "distal",    "side",         "mm_per_px",
    "catheter", "filled", "marker",   "stage",     "wire_in_limb", "medina_threshold_pct",
    "via",      "edge",   "exclude",  "reference", "swap",         "nitrate"};

static bk_status check_keys(const bk_json *request, bk_err *err)
{
    if (!bk_json_is_object(request))
        return bk_fail(err, BK_E_DATA, "%s was found, an object was expected", bk_json_kind_name(request));
    for (size_t i = 0; i < bk_json_count(request); i++) {
        bk_json *value;
        const char *key = bk_json_key_at(request, i, &value);
        bk_nearest best = {0};
        bool known = false;
        for (size_t k = 0; k < sizeof keys / sizeof keys[0]; k++) {
            bk_nearest_offer(&best, key, keys[k]);
            known = known || strcmp(key, keys[k]) == 0;
        }
        if (!known)
            return bk_fail(err, BK_E_DATA, "key \"%.60s\" is unknown, the nearest known one is \"%s\"", key,
                           best.word);
    }
    return BK_OK;
}

static const bk_json *given(const bk_json *request, const char *key)
{
    const bk_json *value = bk_json_get(request, key);
    return value && !bk_json_is_null(value) ? value : NULL;
}

static bk_status read_list(const bk_json *request, const char *key, size_t n, double *out, bk_err *err)
{
    const bk_json *list = given(request, key);
    bool good = bk_json_is_array(list) && bk_json_count(list) == n;
    for (size_t i = 0; good && i < n; i++) {
        out[i] = bk_json_number(bk_json_at(list, i));
        good = isfinite(out[i]) && fabs(out[i]) < 1e6;
    }
    return good ? BK_OK
                : bk_fail(err, BK_E_DATA, "%s: %s was found, %zu numbers were expected", key,
                          list ? (bk_json_is_array(list) ? "another list" : bk_json_kind_name(list))
                               : "nothing",
                          n);
}

static bk_status read_optional(const bk_json *request, const char *key, size_t n, double *out, bool *has,
                               bk_err *err)
{
    *has = given(request, key) != NULL;
    return *has ? read_list(request, key, n, out, err) : BK_OK;
}

static bk_status read_positive(const bk_json *request, const char *key, double *out, bk_err *err)
{
    const bk_json *value = given(request, key);
    *out = value ? bk_json_number(value) : (double)NAN;
    if (!value || *out > 0)
        return BK_OK;
    return bk_fail(err, BK_E_DATA, "%s: a number above 0 was expected", key);
}

static bk_status read_tri(const bk_json *request, const char *key, bk_tri *out, bk_err *err)
{
    const bk_json *value = given(request, key);
    *out = BK_UNKNOWN;
    for (bk_tri tri = BK_UNKNOWN; value && tri <= BK_YES; tri++)
        if (strcmp(bk_json_text(value), bk_tri_name(tri)) == 0) {
            *out = tri;
            return BK_OK;
        }
    return value ? bk_fail(err, BK_E_DATA, "%s: \"%.40s\" was found, yes, no or unknown was expected", key,
                           bk_json_text(value))
                 : BK_OK;
}

static bk_status read_stage(const bk_json *request, bk_measure_options *out, bk_err *err)
{
    const bk_json *value = given(request, "stage");
    out->stage = NULL;
    for (int i = 0; value && bk_measure_stages[i]; i++)
        if (strcmp(bk_measure_stages[i], bk_json_text(value)) == 0)
            out->stage = bk_measure_stages[i];
    if (!value || out->stage)
        return BK_OK;
    return bk_fail(err, BK_E_DATA,
                   "stage: \"%.40s\" was found, baseline, predilated, stented, final or other was expected",
                   bk_json_text(value));
}

static bk_status read_frame(const bk_json *request, bk_measure_options *out, bk_err *err)
{
    const double frame = bk_json_number(bk_json_get(request, "frame"));
    if (!(frame >= 1 && frame <= INT32_MAX && frame == floor(frame)))
        return bk_fail(err, BK_E_DATA, "frame: a whole number from 1 was expected");
    out->frame = (int32_t)frame;
    return BK_OK;
}

static bk_status read_wires(const bk_json *request, bk_measure_options *out, bk_err *err)
{
    const bk_json *list = given(request, "wire_in_limb");
    for (size_t k = 0; k < bk_json_count(list); k++) {
        bool known = false;
        for (int i = 0; i < BK_LIMBS; i++)
            if (strcmp(bk_json_text(bk_json_at(list, k)), bk_limb_name(i)) == 0)
                out->wire_in[i] = known = true;
        if (!known)
            return bk_fail(err, BK_E_DATA, "wire_in_limb.%zu: proximal, distal or side was expected", k);
    }
    return BK_OK;
}

static bk_status read_corrections(const bk_json *request, bk_correction_texts *out, bk_err *err)
{
    for (int say = 0; say < BK_SAYS; say++) {
        const bk_json *list = given(request, bk_correction_names[say]);
        const size_t n = bk_json_count(list);
        if (list && (!bk_json_is_array(list) || n > BK_SAY_MAX))
            return bk_fail(err, BK_E_DATA, "%s: a list of at most %d texts was expected",
                           bk_correction_names[say], BK_SAY_MAX);
        for (size_t i = 0; i < n; i++) {
            if (!bk_json_is_text(bk_json_at(list, i)))
                return bk_fail(err, BK_E_DATA, "%s.%zu: a text was expected", bk_correction_names[say], i);
            out->text[say][out->n[say]++] = bk_json_text(bk_json_at(list, i));
        }
    }
    return BK_OK;
}

bk_json *bk_app_scale_given(const bk_measure_options *o)
{
    bk_json *out = bk_json_object();
    bk_json_put_real(out, "mm_per_px", o->mm_per_px);
    if (o->has_catheter) {
        bk_json_put_reals(out, "catheter", o->catheter, 5, 4);
        bk_json_put_text(out, "filled", bk_tri_name(o->catheter_filled));
    } else {
        bk_json_put_null(out, "catheter");
    }
    if (o->has_marker)
        bk_json_put_reals(out, "marker", o->marker, 5, 4);
    else
        bk_json_put_null(out, "marker");
    return out;
}

bk_status bk_app_measure_request(const bk_json *request, bk_measure_options *out, bk_err *err)
{
    memset(out, 0, sizeof *out);
    bk_status status = check_keys(request, err);
    if (status == BK_OK)
        status = read_frame(request, out, err);
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++)
        status = read_list(request, bk_limb_name(i), 2, out->click_px[i], err);
    if (status == BK_OK)
        status = read_positive(request, "mm_per_px", &out->mm_per_px, err);
    if (status == BK_OK)
        status = read_positive(request, "medina_threshold_pct", &out->medina_threshold_pct, err);
    if (status == BK_OK)
        status = read_optional(request, "catheter", 5, out->catheter, &out->has_catheter, err);
    if (status == BK_OK)
        status = read_optional(request, "marker", 5, out->marker, &out->has_marker, err);
    if (status == BK_OK)
        status = read_tri(request, "filled", &out->catheter_filled, err);
    if (status == BK_OK)
        status = read_tri(request, "nitrate", &out->nitrate, err);
    if (status == BK_OK)
        status = read_stage(request, out, err);
    if (status == BK_OK)
        status = read_wires(request, out, err);
    return status == BK_OK ? read_corrections(request, &out->corrections, err) : status;
}
