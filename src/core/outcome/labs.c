/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/outcome/labs.h"

#include <math.h>
#include <string.h>

#include "base/nearest.h"
#include "base/time.h"
#include "core/outcome/injury.h"
#include "core/patient/lines.h"

enum { WORD = 40 };

/* Small letters; blanks, hyphens and slashes as they come out of laboratories are one underscore or nothing.
 */
static void plain(const char *text, char out[WORD])
{
    size_t n = 0;
    for (; *text && n + 1 < WORD; text++) {
        const char c = *text;
        if (c >= 'A' && c <= 'Z')
            out[n++] = (char)(c - 'A' + 'a');
        else
            out[n++] = c == ' ' || c == '-' ? '_' : c;
    }
    out[n] = '\0';
}

bk_lab_test bk_lab_test_of(const char *name, const char **nearest)
{
    static const struct {
        const char *word;
        bk_lab_test test;
    } known[] = {{"troponin", BK_LAB_TROPONIN},
                 {"troponin_t", BK_LAB_TROPONIN},
                 {"troponin_i", BK_LAB_TROPONIN},
                 {"hs_troponin_t", BK_LAB_TROPONIN},
                 {"hs_troponin_i", BK_LAB_TROPONIN},
                 {"hs_troponin", BK_LAB_TROPONIN},
                 {"ck_mb", BK_LAB_CKMB},
                 {"ckmb", BK_LAB_CKMB},
                 {"creatinine", BK_LAB_CREATININE},
                 {"haemoglobin", BK_LAB_HAEMOGLOBIN},
                 {"hemoglobin", BK_LAB_HAEMOGLOBIN}};
    char word[WORD];
    bk_nearest best = {0};
    plain(name, word);
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        if (strcmp(word, known[i].word) == 0)
            return known[i].test;
        bk_nearest_offer(&best, word, known[i].word);
    }
    *nearest = best.word;
    return BK_LAB_OTHER;
}

const char *const bk_lab_fault_words[] = {"used",
                                          "is not a test that is used",
                                          "has no time that can be read",
                                          "has no limit of its assay",
                                          "has the wrong kind of limit",
                                          "has a unit that is not known",
                                          "cannot be meant in its unit"};

static bool is_unit(const char *unit, const char *a, const char *b, const char *c)
{
    char word[WORD];
    plain(unit, word);
    return strcmp(word, a) == 0 || strcmp(word, b) == 0 || strcmp(word, c) == 0;
}
static bool in_umol(const bk_lab *lab)
{
    return is_unit(lab->unit, "umol/l", "\xc2\xb5mol/l", "\xce\xbcmol/l"); // micro sign, and the Greek letter
}

/* Haemoglobin in g/dL; NaN for an unknown unit. */
static double haemoglobin(const bk_lab *lab, const bk_evidence_set *evidence)
{
    if (is_unit(lab->unit, "g/dl", "g/dl", "g/dl"))
        return lab->value.value;
    if (is_unit(lab->unit, "g/l", "g/l", "g/l"))
        return lab->value.value / 10;
    return is_unit(lab->unit, "mmol/l", "mmol/l", "mmol/l")
               ? lab->value.value * bk_evidence_value(evidence, BK_EVIDENCE("haemoglobin_mmol"))
               : (double)NAN;
}

/* In the range that the same value has on the patient sheet in this unit? */
static bk_lab_fault within(const bk_lab *lab, bk_lab_test test)
{
    const bool blood = test == BK_LAB_HAEMOGLOBIN;
    const char *name = NULL;
    if (blood)
        name = is_unit(lab->unit, "g/dl", "g/dl", "g/dl")         ? "haemoglobin_g_dl"
               : is_unit(lab->unit, "g/l", "g/l", "g/l")          ? "haemoglobin_g_l"
               : is_unit(lab->unit, "mmol/l", "mmol/l", "mmol/l") ? "haemoglobin_mmol_l"
                                                                  : NULL;
    else
        name = in_umol(lab)                                    ? "creatinine_umol_l"
               : is_unit(lab->unit, "mg/dl", "mg/dl", "mg/dl") ? "creatinine_mg_dl"
                                                               : NULL;
    if (!name)
        return BK_LAB_BAD_UNIT;
    const bk_field *row = bk_fields_find(bk_patient_fields, name);
    return lab->value.value >= row->min && lab->value.value <= row->max ? BK_LAB_USED : BK_LAB_IMPLAUSIBLE;
}

bk_lab_fault bk_lab_check(const bk_lab *lab, double ended_min)
{
    const char *nearest;
    double at;
    const bk_lab_test test = bk_lab_test_of(lab->test, &nearest);
    if (test == BK_LAB_OTHER)
        return BK_LAB_UNKNOWN_TEST;
    if (!bk_time_minutes(lab->at, &at) || isnan(ended_min) || !bk_has(lab->value))
        return BK_LAB_NO_TIME;
    if (test == BK_LAB_CREATININE || test == BK_LAB_HAEMOGLOBIN)
        return within(lab, test);
    if (!bk_has(lab->limit) || lab->limit.value <= 0 || lab->limit_kind == BK_LIMIT_NOT_SAID)
        return BK_LAB_NO_LIMIT;
    return lab->limit_kind == (test == BK_LAB_TROPONIN ? BK_LIMIT_URL_99 : BK_LIMIT_ULN) ? BK_LAB_USED
                                                                                         : BK_LAB_WRONG_LIMIT;
}

/* Is this a value of the test that can be used? minutes: its time. */
static bool usable(const bk_lab *lab, bk_lab_test test, double ended_min, double *minutes)
{
    const char *nearest;
    return bk_lab_test_of(lab->test, &nearest) == test && bk_lab_check(lab, ended_min) == BK_LAB_USED &&
           bk_time_minutes(lab->at, minutes);
}

static int course_of(double first, double last, double highest, size_t n, const bk_evidence_set *evidence)
{
    const double fifth = bk_evidence_value(evidence, BK_EVIDENCE("udmi4_rise")),
                 change = 100 * (last / first - 1);
    if (n == 0)
        return BK_COURSE_NOT_SAID;
    if (n > 1 && bk_above(change, fifth) &&
        bk_above(last, bk_evidence_value(evidence, BK_EVIDENCE("udmi4_normal"))))
        return BK_COURSE_RISING;
    if (!bk_above(highest, bk_evidence_value(evidence, BK_EVIDENCE("udmi4_normal"))))
        return BK_COURSE_NORMAL;
    if (n == 1)
        return BK_COURSE_NOT_SAID;
    return bk_above(-change, fifth) ? BK_COURSE_FALLING : BK_COURSE_STABLE;
}

bk_lab_marker bk_lab_marker_of(const bk_list *labs, bk_lab_test test, double ended_min,
                               const bk_evidence_set *evidence)
{
    const double none = (double)NAN;
    bk_lab_marker out = {none, none, none, BK_COURSE_NOT_SAID, 0, 0, false};
    double first = none, first_at = INFINITY, last_at = -INFINITY, highest = 0, at;
    const bk_lab *one = NULL;
    for (size_t i = 0; i < labs->n; i++) {
        const bk_lab *lab = &BK_ITEMS(*labs, bk_lab)[i];
        if (!usable(lab, test, ended_min, &at))
            continue;
        const double x = lab->value.value / lab->limit.value;
        out.assay_changed = out.assay_changed ||
                            (one && (one->limit.value != lab->limit.value ||
                                     strcmp(one->unit, lab->unit) != 0 || strcmp(one->test, lab->test) != 0));
        one = lab;
        if (at > ended_min) {
            out.after_n++;
            if (isnan(out.peak) || x > out.peak) {
                out.peak = x;
                out.peak_hours = (at - ended_min) / 60;
            }
            continue;
        }
        out.before_n++;
        highest = fmax(highest, x);
        if (at < first_at) {
            first = x;
            first_at = at;
        }
        if (at >= last_at) {
            out.before = x;
            last_at = at;
        }
    }
    out.course = course_of(first, out.before, highest, out.before_n, evidence);
    return out;
}

static double in_mg_dl(const bk_lab *lab, const bk_evidence_set *evidence)
{
    return in_umol(lab) ? lab->value.value / bk_evidence_value(evidence, BK_EVIDENCE("creatinine_umol"))
                        : lab->value.value;
}

bool bk_lab_creatinine(const bk_list *labs, size_t i, double ended_min, double fallback_mg_dl,
                       const bk_evidence_set *evidence, bk_creatinine_pair *out)
{
    const bk_lab *before = NULL, *after = NULL;
    double at, before_at = -INFINITY, after_at = 0;
    for (size_t k = 0; k < labs->n; k++) {
        const bk_lab *lab = &BK_ITEMS(*labs, bk_lab)[k];
        if (!usable(lab, BK_LAB_CREATININE, ended_min, &at))
            continue;
        if (at > ended_min && i-- == 0) {
            after = lab;
            after_at = at;
        } else if (at <= ended_min && at >= before_at) {
            before = lab;
            before_at = at;
        }
    }
    if (!after)
        return false;
    const bool umol = before && in_umol(before) && in_umol(after);
    *out = (bk_creatinine_pair){.before = umol     ? before->value.value
                                          : before ? in_mg_dl(before, evidence)
                                                   : fallback_mg_dl,
                                .after = umol ? after->value.value : in_mg_dl(after, evidence),
                                .hours = (after_at - ended_min) / 60,
                                .umol_l = umol};
    return true;
}

double bk_lab_haemoglobin_drop(const bk_list *labs, double ended_min, const bk_evidence_set *evidence)
{
    double before = (double)NAN, before_at = -INFINITY, lowest = (double)NAN, at;
    for (size_t k = 0; k < labs->n; k++) {
        const bk_lab *lab = &BK_ITEMS(*labs, bk_lab)[k];
        if (!usable(lab, BK_LAB_HAEMOGLOBIN, ended_min, &at))
            continue;
        const double g_dl = haemoglobin(lab, evidence);
        if (at > ended_min) {
            lowest = fmin(lowest, g_dl);
        } else if (at >= before_at) {
            before = g_dl;
            before_at = at;
        }
    }
    return before - lowest;
}
