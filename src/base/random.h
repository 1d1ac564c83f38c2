/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Seeded random numbers: the same seed gives the same numbers everywhere. Not for secrets.
   Source: xoshiro256** and splitmix64, Blackman & Vigna, ACM Trans Math Softw 2021;47:36,
   doi 10.1145/3460772 (algorithm and DOI from memory). */
#ifndef BK_BASE_RANDOM_H
#define BK_BASE_RANDOM_H

#include <stdint.h>

typedef struct bk_random {
    uint64_t state[4];
} bk_random;

void bk_random_seed(bk_random *random, uint64_t seed);
uint64_t bk_random_bits(bk_random *random);
/** Uniform in [0, 1). */
double bk_random_unit(bk_random *random);
/** Uniform in [low, high). */
double bk_random_between(bk_random *random, double low, double high);
/** Standard normal (Marsaglia's polar method). */
double bk_random_normal(bk_random *random);
/** Poisson count of mean >= 0: by products below 30, above by a rounded normal (skew error under 1/sqrt(30)). */
double bk_random_poisson(bk_random *random, double mean);

#endif
