/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <string.h>

#include "app/phantom.h"
#include "base/nearest.h"
#include "base/number.h"
#include "cli/cli.h"

/* As they were typed; NULL when absent. */
typedef struct words {
    const char *seed, *out, *two_views, *frames, *eight_bit, *bits, *jpeg, *shift, *log, *disp, *missing,
        *medina;
    const char *stenosis, *size, *photons, *density, *density_variation, *lesion_mm, *branch, *site, *demo;
    const char *no_background, *no_noise, *ostial, *eccentric, *elliptic, *crossing, *wire;
} words;

static bk_status real(const char *name, const char *text, double *out, bk_err *err)
{
    return text ? bk_option_numbers(name, text, 1, out, err) : BK_OK;
}

static bk_status read_seed(const words *w, bk_phantom_options *o, bk_err *err)
{
    int64_t seed;
    if (!w->seed || !w->out)
        return bk_fail(err, BK_E_USAGE, "--%s is missing, --seed N --out DIR was expected",
                       w->seed ? "out" : "seed");
    if (!bk_integer_read(w->seed, strlen(w->seed), &seed) || seed < 0)
        return bk_fail(err, BK_E_USAGE, "--seed \"%s\" was found, a whole number from 0 was expected",
                       w->seed);
    *o = bk_phantom_defaults((uint64_t)seed);
    return BK_OK;
}

/* A list of known words separated by commas; calls for each with its index and what follows '='. */
static int known_word(const char *const *known, int n, const char *text, size_t length)
{
    for (int i = 0; i < n; i++)
        if (strlen(known[i]) == length && strncmp(known[i], text, length) == 0)
            return i;
    return -1;
}

static bk_status unknown_word(const char *option, const char *const *known, int n, const char *text,
                              bk_err *err)
{
    bk_nearest best = {0};
    char word[64];
    const size_t length = strcspn(text, ",=");
    const size_t kept = length < sizeof word - 1 ? length : sizeof word - 1;
    memcpy(word, text, kept);
    word[kept] = '\0';
    for (int i = 0; i < n; i++)
        bk_nearest_offer(&best, word, known[i]);
    return bk_fail(err, BK_E_USAGE, "--%s \"%s\" is unknown, the nearest known one is \"%s\"", option, word,
                   best.word);
}

static bk_status read_missing(const char *text, unsigned *missing, bk_err *err)
{
    static const char *const tags[] = {"sid", "sod", "spacing", "angles", "intensity"};
    while (text && *text) {
        const size_t length = strcspn(text, ",");
        const int i = known_word(tags, 5, text, length);
        if (i < 0)
            return unknown_word("missing", tags, 5, text, err);
        *missing |= 1u << i;
        text += length + (text[length] == ',');
    }
    return BK_OK;
}

static bk_status read_branch(const char *text, double diameter_mm[], bk_err *err)
{
    static const char *const limbs[] = {"mother", "distal", "side"};
    while (text && *text) {
        const size_t name = strcspn(text, "="), length = strcspn(text, ",");
        const int i = known_word(limbs, 3, text, name);
        if (i < 0 || name > length)
            return unknown_word("branch", limbs, 3, text, err);
        if (!bk_number_read(text + name + 1, length - name - 1, &diameter_mm[i]))
            return bk_fail(err, BK_E_USAGE, "--branch %s was found, mother=MM,distal=MM,side=MM was expected",
                           text);
        text += length + (text[length] == ',');
    }
    return BK_OK;
}

static bk_status read_lists(const words *w, bk_phantom_options *o, bk_err *err)
{
    double digit[3];
    if (w->medina) {
        if (bk_option_numbers("medina", w->medina, 3, digit, err) != BK_OK)
            return BK_E_USAGE;
        for (int i = 0; i < 3; i++) {
            if (digit[i] != 0 && digit[i] != 1)
                return bk_fail(err, BK_E_USAGE, "--medina %s was found, three of 0 or 1 were expected",
                               w->medina);
            o->medina[i] = (int)digit[i];
        }
    }
    if (w->stenosis && bk_option_numbers("stenosis", w->stenosis, 3, o->stenosis_pct, err) != BK_OK)
        return BK_E_USAGE;
    if (w->lesion_mm && bk_option_numbers("lesion-mm", w->lesion_mm, 2, o->lesion_mm, err) != BK_OK)
        return BK_E_USAGE;
    if (read_missing(w->missing, &o->missing, err) != BK_OK)
        return BK_E_USAGE;
    return read_branch(w->branch, o->diameter_mm, err);
}

static bk_status read_numbers(const words *w, bk_phantom_options *o, bk_err *err)
{
    long size = o->size, frames = o->frames, bits = w->eight_bit || w->jpeg ? 8 : o->bits;
    if ((w->size && bk_option_integer("size", w->size, 512, 1024, &size, err) != BK_OK) ||
        (w->bits && bk_option_integer("bits", w->bits, 8, 12, &bits, err) != BK_OK) ||
        (w->frames &&
         bk_option_integer("frames", w->frames, 1, BK_PHANTOM_FRAMES_MAX, &frames, err) != BK_OK) ||
        real("jpeg", w->jpeg, &o->jpeg_ratio, err) != BK_OK ||
        real("shift", w->shift, &o->shift_mm, err) != BK_OK ||
        real("photons", w->photons, &o->photons, err) != BK_OK ||
        real("density", w->density, &o->density_per_mm, err) != BK_OK ||
        real("density-variation", w->density_variation, &o->density_variation_pct, err) != BK_OK)
        return BK_E_USAGE;
    o->size = (int32_t)size;
    o->frames = (int32_t)frames;
    o->bits = (int32_t)bits;
    return BK_OK;
}

static bk_status read_switches(const words *w, bk_phantom_options *o, bk_err *err)
{
    if (w->log && w->disp)
        return bk_fail(err, BK_E_USAGE, "--log and --disp were found, one of them was expected");
    o->curve = w->log ? BK_PHANTOM_CURVE_LOG : w->disp ? BK_PHANTOM_CURVE_DISPLAY : BK_PHANTOM_CURVE_LINEAR;
    o->two_views = w->two_views != NULL;
    o->background = !w->no_background;
    o->noise = !w->no_noise;
    o->ostial = w->ostial != NULL;
    o->eccentric = w->eccentric != NULL;
    o->elliptic = w->elliptic != NULL;
    o->crossing = w->crossing != NULL;
    o->wire = w->wire != NULL;
    return BK_OK;
}

static bk_status read_site(const words *w, const char **site, bk_err *err)
{
    static const char *const sites[] = {"left_main", "lad_diagonal", "lcx_marginal", "rca_crux", "other"};
    *site = w->site ? w->site : w->demo ? "lcx_marginal" : NULL;
    if (w->site && known_word(sites, 5, w->site, strlen(w->site)) < 0)
        return unknown_word("site", sites, 5, w->site, err);
    return BK_OK;
}

static bk_status read_words(int argc, char **argv, words *w, bk_err *err)
{
    int none = 0;
    const bk_option options[] = {
        {"seed", 1, &w->seed, 0, NULL},
        {"out", 1, &w->out, 0, NULL},
        {"two-views", 0, &w->two_views, 0, NULL},
        {"frames", 1, &w->frames, 0, NULL},
        {"eight-bit", 0, &w->eight_bit, 0, NULL},
        {"bits", 1, &w->bits, 0, NULL},
        {"jpeg", 1, &w->jpeg, 0, NULL},
        {"shift", 1, &w->shift, 0, NULL},
        {"log", 0, &w->log, 0, NULL},
        {"disp", 0, &w->disp, 0, NULL},
        {"missing", 1, &w->missing, 0, NULL},
        {"medina", 1, &w->medina, 0, NULL},
        {"stenosis", 1, &w->stenosis, 0, NULL},
        {"size", 1, &w->size, 0, NULL},
        {"photons", 1, &w->photons, 0, NULL},
        {"density", 1, &w->density, 0, NULL},
        {"density-variation", 1, &w->density_variation, 0, NULL},
        {"lesion-mm", 1, &w->lesion_mm, 0, NULL},
        {"branch", 1, &w->branch, 0, NULL},
        {"site", 1, &w->site, 0, NULL},
        {"demo", 0, &w->demo, 0, NULL},
        {"no-background", 0, &w->no_background, 0, NULL},
        {"no-noise", 0, &w->no_noise, 0, NULL},
        {"ostial", 0, &w->ostial, 0, NULL},
        {"eccentric", 0, &w->eccentric, 0, NULL},
        {"elliptic", 0, &w->elliptic, 0, NULL},
        {"crossing", 0, &w->crossing, 0, NULL},
        {"wire", 0, &w->wire, 0, NULL},
        {NULL, 0, NULL, 0, NULL},
    };
    return bk_options_read(argc, argv, options, NULL, 0, &none, err);
}

static bk_status run(int argc, char **argv, bk_err *err)
{
    words w = {0};
    bk_phantom_options o;
    const char *site;
    bk_json *answer;
    if (read_words(argc, argv, &w, err) != BK_OK || read_seed(&w, &o, err) != BK_OK)
        return BK_E_USAGE;
    if (w.demo)
        bk_phantom_demo(&o);
    if (read_lists(&w, &o, err) != BK_OK || read_numbers(&w, &o, err) != BK_OK ||
        read_switches(&w, &o, err) != BK_OK || read_site(&w, &site, err) != BK_OK)
        return BK_E_USAGE;
    const bk_status status = bk_app_phantom(&o, site, w.out, &answer, err);
    return status == BK_OK ? bk_cli_answer(answer, err) : status;
}

const bk_command bk_cmd_phantom = {
    "phantom",
    "--seed N --out DIR [--two-views] [--frames N] [--eight-bit] [--jpeg RATIO] [--shift MM]\n"
    "       [--bits 8|10|12] [--size 512|1024] [--log | --disp] [--missing "
    "sid,sod,spacing,angles,intensity]\n"
    "       [--medina P,D,S] [--stenosis P,D,S] [--branch mother=MM,distal=MM,side=MM] [--lesion-mm LO,HI]\n"
    "       [--ostial] [--eccentric] [--elliptic] [--crossing] [--wire] [--density PER_MM]\n"
    "       [--density-variation PCT] [--photons N] [--no-background] [--no-noise] [--site SITE] [--demo]",
    "write a digital angiogram of a bifurcation with its truth", run};
