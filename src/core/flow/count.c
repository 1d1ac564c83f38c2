/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/flow/count.h"

const char *const bk_count_vessel_names[BK_COUNT_VESSELS] = {"lad", "lcx", "rca"};

bk_count bk_count_of(double seconds, double frame_seconds, bk_count_vessel vessel, const bk_evidence_set *evidence)
{
    static const char *const lengths[BK_COUNT_VESSELS] = {BK_EVIDENCE("landmark_lad"), BK_EVIDENCE("landmark_lcx"),
                                                          BK_EVIDENCE("landmark_rca")};
    const double rate = bk_evidence_value(evidence, BK_EVIDENCE("timi_rate"));
    const double factor = vessel == BK_COUNT_LAD ? bk_evidence_value(evidence, BK_EVIDENCE("timi_lad_factor")) : 1;
    return (bk_count){.frames = seconds * rate,
                      .corrected = seconds * rate / factor,
                      .half_width = frame_seconds * rate / factor,
                      .velocity_cm_s = bk_evidence_value(evidence, lengths[vessel]) / 10 / seconds};
}
