/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/risk/tests.h"

#include <assert.h>
#include <math.h>

bk_tri bk_test_met(const bk_test *test, const bk_risk_inputs *inputs, const bk_span spans[BK_RISK_INPUTS])
{
    if (test->relation == BK_IS)
        return inputs->known[test->fact];
    const bk_span s = bk_risk_quantity_of(test->quantity, spans);
    const double line = test->threshold;
    switch (test->relation) {
    case BK_AT_LEAST:
        return s.low >= line ? BK_YES : s.high < line ? BK_NO : BK_UNKNOWN;
    case BK_ABOVE:
        return s.low > line ? BK_YES : s.high <= line ? BK_NO : BK_UNKNOWN;
    case BK_AT_MOST:
        return s.high <= line ? BK_YES : s.low > line ? BK_NO : BK_UNKNOWN;
    case BK_BELOW:
        return s.high < line ? BK_YES : s.low >= line ? BK_NO : BK_UNKNOWN;
    case BK_IS:
        break;
    }
    return BK_UNKNOWN;
}

double bk_test_value(const bk_test *test, const bk_span spans[BK_RISK_INPUTS], bool *at_least)
{
    *at_least = false;
    if (test->relation == BK_IS)
        return (double)NAN;
    const bk_span s = bk_risk_quantity_of(test->quantity, spans);
    if (s.low >= s.high)
        return s.low;
    *at_least = s.low > 0;
    return *at_least ? s.low : (double)NAN;
}

double bk_risk_input_sd(bk_qty q)
{
    return q.origin == BK_ENTERED && isnan(q.sd) ? 0 : q.sd;
}

static bool drawn(const bk_qty q)
{
    return bk_has(q) && !isnan(bk_risk_input_sd(q));
}

bool bk_test_has_certainty(const bk_test *test, const bk_risk_inputs *inputs, bk_risk_input *without_sd)
{
    bk_span spans[BK_RISK_INPUTS];
    *without_sd = BK_RISK_INPUTS;
    bk_risk_spans(inputs, spans);
    if (test->relation == BK_IS || bk_test_met(test, inputs, spans) == BK_UNKNOWN)
        return false;
    const unsigned bits = bk_risk_quantity_inputs(test->quantity);
    for (int i = 0; i < BK_RISK_INPUTS; i++)
        if ((bits >> i & 1) && bk_has(inputs->fact[i].q) && !drawn(inputs->fact[i].q)) {
            *without_sd = (bk_risk_input)i;
            return false;
        }
    return true;
}

/* ---- drawing ---- */

static bool off_the_picture(bk_qty q)
{
    return q.origin == BK_MEASURED || q.origin == BK_PROJECTED;
}

static bool scaled(int input, const bk_qty q)
{
    const bool in_mm =
        input <= BK_IN_SIDE_REFERENCE || (input >= BK_IN_PROXIMAL_LESION && input <= BK_IN_SIDE_VESSEL);
    return in_mm && off_the_picture(q);
}

static const struct {
    bk_risk_input stenosis, reference;
} limbs_of_inputs[BK_LIMBS] = {{BK_IN_PROXIMAL_STENOSIS, BK_IN_PROXIMAL_REFERENCE},
                               {BK_IN_DISTAL_STENOSIS, BK_IN_DISTAL_REFERENCE},
                               {BK_IN_SIDE_STENOSIS, BK_IN_SIDE_REFERENCE}};

/* What is drawn anew each time. */
typedef struct drawn_errors {
    double scale; /* the factor that all lengths off the picture share */
    double z[BK_RISK_INPUTS];
} drawn_errors;

/* A stenosis follows from the diameters as they were drawn; the best one stays what is displayed. */
static double stenosis_of(const bk_risk_inputs *best, int limb, const bk_risk_inputs *now, const drawn_errors *errors)
{
    const bk_stenosis_parts *parts = &best->parts[limb];
    const bk_qty reference = best->fact[limbs_of_inputs[limb].reference].q;
    const double z_mld = parts->share * errors->z[limbs_of_inputs[limb].reference] +
                         sqrt(1 - parts->share * parts->share) * errors->z[limbs_of_inputs[limb].stenosis];
    const double mld = (parts->mld.value + bk_risk_input_sd(parts->mld) * z_mld) *
                       (off_the_picture(parts->mld) ? errors->scale : 1);
    return best->fact[limbs_of_inputs[limb].stenosis].q.value + 100 * parts->mld.value / reference.value -
           100 * fmax(0, mld) / fmax(0.1 * reference.value, now->fact[limbs_of_inputs[limb].reference].q.value);
}

/* held keeps its best value. All random numbers are drawn whatever is held, so that runs with one seed differ
   in nothing else. */
static void draw(const bk_risk_inputs *best, int held, bk_random *random, bk_risk_inputs *out)
{
    drawn_errors errors = {.scale = 1};
    const double z_scale = bk_random_normal(random);
    if (!isnan(best->scale_sd_pct) && held != BK_HELD_SCALE)
        errors.scale = 1 + best->scale_sd_pct / 100 * z_scale;
    for (int i = 0; i < BK_RISK_INPUTS; i++) {
        const bk_qty q = best->fact[i].q;
        errors.z[i] = bk_random_normal(random);
        if (drawn(q) && i != held)
            out->fact[i].q.value = (q.value + bk_risk_input_sd(q) * errors.z[i]) * (scaled(i, q) ? errors.scale : 1);
    }
    for (int limb = 0; limb < BK_LIMBS; limb++)
        if (best->parts[limb].known && (int)limbs_of_inputs[limb].stenosis != held)
            out->fact[limbs_of_inputs[limb].stenosis].q.value = stenosis_of(best, limb, out, &errors);
}

typedef struct displayed_tests {
    const bk_test *tests;
    size_t n;
    const bk_risk_inputs *best;
    bk_tri met[BK_TESTS_MAX];
    bool certain[BK_TESTS_MAX];
    unsigned inputs; /* bits of those that the certain tests look at; 0: no test is certain */
} displayed_tests;

static displayed_tests display(const bk_test *tests, size_t n, const bk_risk_inputs *inputs)
{
    displayed_tests out = {.tests = tests, .n = n, .best = inputs};
    bk_span spans[BK_RISK_INPUTS];
    bk_risk_input without_sd;
    assert(n <= BK_TESTS_MAX);
    bk_risk_spans(inputs, spans);
    for (size_t i = 0; i < n; i++) {
        out.met[i] = bk_test_met(&tests[i], inputs, spans);
        out.certain[i] = bk_test_has_certainty(&tests[i], inputs, &without_sd);
        out.inputs |= out.certain[i] ? bk_risk_quantity_inputs(tests[i].quantity) : 0;
    }
    return out;
}

/* The share of draws that look as displayed [%]; reached counts how often each line is. */
static double run(const displayed_tests *shown, int held, bk_sampling sampling, int reached[])
{
    bk_random random;
    bk_risk_inputs now = *shown->best;
    bk_span spans[BK_RISK_INPUTS];
    int same_n = 0;
    assert(sampling.n >= 1);
    bk_random_seed(&random, sampling.seed);
    for (int k = 0; k < sampling.n; k++) {
        bool same = true;
        draw(shown->best, held, &random, &now);
        bk_risk_spans(&now, spans);
        for (size_t i = 0; i < shown->n; i++) {
            if (!shown->certain[i])
                continue;
            const bk_tri met = bk_test_met(&shown->tests[i], &now, spans);
            reached[i] += met == BK_YES;
            same = same && met == shown->met[i];
        }
        same_n += same;
    }
    return 100.0 * same_n / sampling.n;
}

double bk_tests_certainty(const bk_test *tests, size_t tests_n, const bk_risk_inputs *inputs,
                          bk_sampling sampling, double certainty_pct[])
{
    const displayed_tests shown = display(tests, tests_n, inputs);
    int reached[BK_TESTS_MAX] = {0};
    const double share = shown.inputs ? run(&shown, BK_HELD_NONE, sampling, reached) : (double)NAN;
    for (size_t i = 0; i < tests_n; i++)
        certainty_pct[i] = shown.certain[i] ? 100.0 * reached[i] / sampling.n : (double)NAN;
    return share;
}

bk_decisive bk_tests_decisive(const bk_test *tests, size_t tests_n, const bk_risk_inputs *inputs,
                              bk_sampling sampling)
{
    const displayed_tests shown = display(tests, tests_n, inputs);
    bk_decisive out = {BK_HELD_NONE, (double)NAN};
    int unused[BK_TESTS_MAX] = {0};
    if (!shown.inputs)
        return out;
    double best = run(&shown, BK_HELD_NONE, sampling, unused);
    for (int held = 0; held <= BK_HELD_SCALE; held++) {
        if (held < BK_RISK_INPUTS && (!(shown.inputs >> held & 1) || !drawn(inputs->fact[held].q)))
            continue;
        const double settled = run(&shown, held, sampling, unused);
        if (settled <= best)
            continue;
        best = settled;
        out = (bk_decisive){held, settled};
    }
    return out;
}
