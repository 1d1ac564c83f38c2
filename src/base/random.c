/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/random.h"

#include <math.h>

static uint64_t rotate_left(uint64_t x, int k)
{
    return (x << k) | (x >> (64 - k));
}

void bk_random_seed(bk_random *random, uint64_t seed)
{
    for (int i = 0; i < 4; i++) {
        seed += UINT64_C(0x9e3779b97f4a7c15);
        uint64_t z = seed;
        z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
        z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
        random->state[i] = z ^ (z >> 31);
    }
}

uint64_t bk_random_bits(bk_random *random)
{
    uint64_t *s = random->state;
    const uint64_t result = rotate_left(s[1] * 5, 7) * 9;
    const uint64_t t = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = rotate_left(s[3], 45);
    return result;
}

double bk_random_unit(bk_random *random)
{
    return (double)(bk_random_bits(random) >> 11) * 0x1p-53;
}

double bk_random_between(bk_random *random, double low, double high)
{
    return low + (high - low) * bk_random_unit(random);
}

double bk_random_normal(bk_random *random)
{
    for (;;) {
        const double u = bk_random_between(random, -1, 1);
        const double v = bk_random_between(random, -1, 1);
        const double s = u * u + v * v;
        if (s > 0 && s < 1)
            return u * sqrt(-2 * log(s) / s);
    }
}

double bk_random_poisson(bk_random *random, double mean)
{
    if (mean >= 30) {
        const double count = floor(mean + sqrt(mean) * bk_random_normal(random) + 0.5);
        return count > 0 ? count : 0;
    }
    const double floor_product = exp(-mean);
    double product = bk_random_unit(random);
    double count = 0;
    while (product > floor_product) {
        product *= bk_random_unit(random);
        count++;
    }
    return count;
}
