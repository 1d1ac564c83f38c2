/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <string.h>

#include "app/measure.h"
#include "app/repeat.h"
#include "cli/cli.h"
#include "cli/measure_batch.h"

typedef struct texts {
    const char *frame, *click[3], *mm_per_px, *catheter, *filled, *marker, *stage, *nitrate, *out, *png, *threshold;
    const char *wire_in[3];
    int wire_in_n;
    const char *repeat;
} texts;

static const char *const click_names[3] = {"proximal", "distal", "side"};

static bk_status read_tri(const char *name, const char *text, bk_tri *out, bk_err *err)
{
    *out = BK_UNKNOWN;
    if (!text || strcmp(text, "unknown") == 0)
        return BK_OK;
    if (strcmp(text, "yes") != 0 && strcmp(text, "no") != 0)
        return bk_fail(err, BK_E_USAGE, "--%s \"%s\" was found, yes, no or unknown was expected", name, text);
    *out = text[0] == 'y' ? BK_YES : BK_NO;
    return BK_OK;
}

static bk_status read_positive(const char *name, const char *text, double *out, bk_err *err)
{
    *out = NAN;
    if (!text)
        return BK_OK;
    bk_status status = bk_option_numbers(name, text, 1, out, err);
    if (status == BK_OK && !(*out > 0))
        status = bk_fail(err, BK_E_USAGE, "--%s \"%s\" was found, a number above 0 was expected", name, text);
    return status;
}

static bk_status read_stage(const char *text, const char **out, bk_err *err)
{
    *out = text;
    for (int i = 0; text && bk_measure_stages[i]; i++)
        if (strcmp(text, bk_measure_stages[i]) == 0)
            return BK_OK;
    return text ? bk_fail(err, BK_E_USAGE, "--stage \"%s\" was found, baseline, predilated, stented, final or other was expected", text)
                : BK_OK;
}

static bk_status read_wires(const texts *t, bk_measure_options *out, bk_err *err)
{
    for (int k = 0; k < t->wire_in_n; k++) {
        bool known = false;
        for (int i = 0; i < 3; i++)
            if (strcmp(t->wire_in[k], click_names[i]) == 0)
                out->wire_in[i] = known = true;
        if (!known)
            return bk_fail(err, BK_E_USAGE, "--wire-in \"%s\" was found, proximal, distal or side was expected", t->wire_in[k]);
    }
    return BK_OK;
}

static bk_status read_clicks(const texts *t, bk_measure_options *out, bk_err *err)
{
    for (int i = 0; i < 3; i++) {
        if (!t->click[i])
            return bk_fail(err, BK_E_USAGE, "--%s X,Y is missing: three points were expected", click_names[i]);
        const bk_status status = bk_option_numbers(click_names[i], t->click[i], 2, out->click_px[i], err);
        if (status != BK_OK)
            return status;
    }
    return BK_OK;
}

static bk_status read_scale(const texts *t, bk_measure_options *out, bk_err *err)
{
    bk_status status = read_positive("mm-per-px", t->mm_per_px, &out->mm_per_px, err);
    if (status == BK_OK && t->catheter)
        status = bk_option_numbers("catheter", t->catheter, 5, out->catheter, err);
    if (status == BK_OK && t->marker)
        status = bk_option_numbers("marker", t->marker, 5, out->marker, err);
    out->has_catheter = t->catheter != NULL;
    out->has_marker = t->marker != NULL;
    if (status == BK_OK && t->filled && !t->catheter)
        status = bk_fail(err, BK_E_USAGE, "--filled was found without --catheter, which it belongs to");
    if (status == BK_OK)
        status = read_tri("filled", t->filled, &out->catheter_filled, err);
    return status;
}

/* *n is 0 when it was not asked for. */
static bk_status read_repeat(const char *text, long *n, bk_err *err)
{
    *n = 0;
    if (!text)
        return BK_OK;
    const bk_status status = bk_option_integer("repeat", text, BK_REPEAT_MIN, BK_REPEAT_MAX, n, err);
    if (status == BK_OK && *n % 2 == 0)
        return bk_fail(err, BK_E_USAGE, "--repeat %s was found, an odd number of frames was expected", text);
    return status;
}

static bk_status read_all(int argc, char **argv, texts *t, bk_measure_options *out, bk_err *err)
{
    bk_correction_texts *say = &out->corrections;
    const bk_option options[] = {{"frame", 1, &t->frame, 0, NULL},         {"proximal", 1, &t->click[0], 0, NULL},
                                 {"distal", 1, &t->click[1], 0, NULL},     {"side", 1, &t->click[2], 0, NULL},
                                 {"mm-per-px", 1, &t->mm_per_px, 0, NULL}, {"catheter", 1, &t->catheter, 0, NULL},
                                 {"filled", 1, &t->filled, 0, NULL},       {"marker", 1, &t->marker, 0, NULL},
                                 {"stage", 1, &t->stage, 0, NULL},         {"nitrate", 1, &t->nitrate, 0, NULL},
                                 {"wire-in", 1, t->wire_in, 3, &t->wire_in_n}, {"medina-threshold", 1, &t->threshold, 0, NULL},
                                 {"corrections", 1, &say->path, 0, NULL},
                                 {"via", 1, say->text[BK_SAY_VIA], BK_SAY_MAX, &say->n[BK_SAY_VIA]},
                                 {"edge", 1, say->text[BK_SAY_EDGE], BK_SAY_MAX, &say->n[BK_SAY_EDGE]},
                                 {"exclude", 1, say->text[BK_SAY_EXCLUDE], BK_SAY_MAX, &say->n[BK_SAY_EXCLUDE]},
                                 {"reference", 1, say->text[BK_SAY_REFERENCE], BK_SAY_MAX, &say->n[BK_SAY_REFERENCE]},
                                 {"swap", 1, say->text[BK_SAY_SWAP], BK_SAY_MAX, &say->n[BK_SAY_SWAP]},
                                 {"out", 1, &t->out, 0, NULL},             {"png", 1, &t->png, 0, NULL},
                                 {"repeat", 1, &t->repeat, 0, NULL},
                                 {0}};
    int n;
    long frame = 1;
    bk_status status = bk_options_read(argc, argv, options, &out->path, 1, &n, err);
    if (status == BK_OK && n != 1)
        status = bk_fail(err, BK_E_USAGE, "no file was found, FILE.dcm was expected");
    if (status == BK_OK && !t->frame)
        status = bk_fail(err, BK_E_USAGE, "--frame K is missing");
    if (status == BK_OK)
        status = bk_option_integer("frame", t->frame, 1, INT32_MAX, &frame, err);
    out->frame = (int32_t)frame;
    out->overlay_png = t->png;
    if (status == BK_OK)
        status = read_clicks(t, out, err);
    if (status == BK_OK)
        status = read_scale(t, out, err);
    if (status == BK_OK)
        status = read_stage(t->stage, &out->stage, err);
    if (status == BK_OK)
        status = read_tri("nitrate", t->nitrate, &out->nitrate, err);
    if (status == BK_OK)
        status = read_wires(t, out, err);
    if (status == BK_OK)
        status = read_positive("medina-threshold", t->threshold, &out->medina_threshold_pct, err);
    return status;
}

static bk_status run(int argc, char **argv, bk_err *err)
{
    if (bk_cli_is_batch(argc, argv))
        return bk_cli_measure_batch(argc, argv, err);
    texts t = {0};
    bk_measure_options options = {0};
    bk_json *answer;
    long repeats = 0;
    bk_status status = read_all(argc, argv, &t, &options, err);
    if (status == BK_OK)
        status = read_repeat(t.repeat, &repeats, err);
    if (status == BK_OK && repeats)
        status = bk_app_repeat_allowed(&options, err);
    if (status == BK_OK)
        status = bk_app_measure(&options, &answer, err);
    if (status != BK_OK)
        return status;
    if (repeats)
        status = bk_app_repeat(&options, (int)repeats, answer, err);
    if (status == BK_OK && t.out)
        status = bk_json_write_file(answer, t.out, err);
    if (status != BK_OK) {
        bk_json_free(answer);
        return status;
    }
    return bk_cli_answer(answer, err);
}

const bk_command bk_cmd_measure = {
    "measure",
    "FILE.dcm --frame K --proximal X,Y --distal X,Y --side X,Y\n"
    "         [--mm-per-px V | --catheter X1,Y1,X2,Y2,FRENCH --filled yes|no|unknown | --marker X1,Y1,X2,Y2,MM]\n"
    "         [--stage baseline|predilated|stented|final|other] [--nitrate yes|no|unknown] [--wire-in LIMB]...\n"
    "         [--via LIMB:X,Y]... [--edge LIMB:left|right:X1,Y1,X2,Y2[,...]]... [--exclude LIMB:FROM_MM,TO_MM]...\n"
    "         [--reference LIMB:MM[,SD]]... [--swap LIMB,LIMB]... [--corrections FILE.json]\n"
    "         [--medina-threshold PCT] [--repeat N] [--out M.json] [--png OVERLAY.png]\n"
    "   or: measure --batch LIST.csv [--jobs N] [--mm-per-px V] [--medina-threshold PCT]",
    "measure the bifurcation on one frame from three points", run};
