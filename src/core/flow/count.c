/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/flow/count.h"

#include <math.h>

#define SQRT_PI 1.77245385090551602730
#define SQRT_6 2.44948974278317809820

const char *const bk_count_vessel_names[BK_COUNT_VESSELS] = {"lad", "lcx", "rca"};

bk_count bk_count_of(double seconds, double frame_seconds, bk_count_vessel vessel, const bk_evidence_set *evidence)
{
    static const char *const lengths[BK_COUNT_VESSELS] = {BK_EVIDENCE("landmark_lad"), BK_EVIDENCE("landmark_lcx"),
                                                          BK_EVIDENCE("landmark_rca")};
    const double rate = bk_evidence_value(evidence, BK_EVIDENCE("timi_rate"));
    const double factor = vessel == BK_COUNT_LAD ? bk_evidence_value(evidence, BK_EVIDENCE("timi_lad_factor")) : 1;
    const double corrected = seconds * rate / factor, step = frame_seconds * rate / factor;
    // two injections differ by E|a - b| = 2 sd / sqrt(pi) on average; an end falls anywhere within its frame
    const double injection = bk_evidence_value(evidence, BK_EVIDENCE("timi_repeat")) * SQRT_PI / 2;
    const double velocity = bk_evidence_value(evidence, lengths[vessel]) / 10 / seconds;
    return (bk_count){.frames = seconds * rate,
                      .corrected = corrected,
                      .half_width = step,
                      .velocity_cm_s = velocity,
                      .velocity_sd_cm_s = velocity * hypot(injection, step / SQRT_6) / corrected};
}
