/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/evidence.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const bk_evidence *bk_evidence_find(const bk_evidence_set *set, const char *id)
{
    for (size_t i = 0; i < set->n; i++)
        if (strcmp(set->rows[i].id, id) == 0)
            return &set->rows[i];
    return NULL;
}

/* A number that code relies on: its absence is caught by the tests, so here it can only be a broken build. */
static double relied_on(const bk_evidence_set *set, const char *id, size_t offset)
{
    const bk_evidence *row = bk_evidence_find(set, id);
    const double value = row ? *(const double *)(const void *)((const char *)row + offset) : 0;
    if (!row || value != value) {
        fprintf(stderr, "branchkeep: evidence row %s is missing or has no such number\n", id);
        abort();
    }
    return value;
}

double bk_evidence_value(const bk_evidence_set *set, const char *id)
{
    return relied_on(set, id, offsetof(bk_evidence, value));
}
double bk_evidence_sd(const bk_evidence_set *set, const char *id)
{
    return relied_on(set, id, offsetof(bk_evidence, sd));
}
double bk_evidence_low(const bk_evidence_set *set, const char *id)
{
    return relied_on(set, id, offsetof(bk_evidence, low));
}
double bk_evidence_high(const bk_evidence_set *set, const char *id)
{
    return relied_on(set, id, offsetof(bk_evidence, high));
}

const char *bk_standing_name(bk_standing standing)
{
    static const char *const names[] = {"none", "seen", "memory", "common practice"};
    return names[standing];
}
