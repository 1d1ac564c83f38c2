/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/patient/radiation.h"

#include <math.h>

#include "core/patient/lines.h"

const char *const bk_dose_words[BK_DOSE_METRICS] = {"peak skin dose", "air kerma at the reference point",
                                                    "kerma-area product", "fluoroscopy time"};
const char *const bk_dose_units[BK_DOSE_METRICS] = {"Gy", "Gy", "Gy.cm2", "min"};

bk_dose_levels bk_dose_levels_of(bk_dose_metric metric, const bk_evidence_set *evidence)
{
    static const char *const rows[BK_DOSE_METRICS][3] = {
        {BK_EVIDENCE("notice_skin_first"), BK_EVIDENCE("notice_skin_every"),
         BK_EVIDENCE("notice_skin_substantial")},
        {BK_EVIDENCE("notice_kerma_first"), BK_EVIDENCE("notice_kerma_every"),
         BK_EVIDENCE("notice_kerma_substantial")},
        {BK_EVIDENCE("notice_area_first"), BK_EVIDENCE("notice_area_every"),
         BK_EVIDENCE("notice_area_substantial")},
        {BK_EVIDENCE("notice_fluoro_first"), BK_EVIDENCE("notice_fluoro_every"),
         BK_EVIDENCE("notice_fluoro_substantial")}};
    return (bk_dose_levels){bk_evidence_value(evidence, rows[metric][0]),
                            bk_evidence_value(evidence, rows[metric][1]),
                            bk_evidence_value(evidence, rows[metric][2]), rows[metric][0], rows[metric][2]};
}

bk_notices bk_notices_of(double reading, const bk_dose_levels *levels)
{
    bk_notices out = {0, (double)NAN, isnan(reading) ? (double)NAN : levels->first,
                      bk_at_least(reading, levels->substantial)};
    if (!bk_at_least(reading, levels->first))
        return out;
    out.n = 1 + (int)floor((reading - levels->first) / levels->every + BK_LINE_SLACK);
    out.last = levels->first + (out.n - 1) * levels->every;
    out.next = out.last + levels->every;
    return out;
}

double bk_kerma_area_gy_cm2(double dgy_cm2, const bk_evidence_set *evidence)
{
    return dgy_cm2 / bk_evidence_value(evidence, BK_EVIDENCE("kerma_area_unit"));
}

double bk_mean_field_cm2(double kerma_area_gy_cm2, double air_kerma_gy)
{
    return air_kerma_gy > 0 ? kerma_area_gy_cm2 / air_kerma_gy : (double)NAN;
}

double bk_skin_dose_gy(double air_kerma_gy, double reference_cm, double skin_cm, bool table_in_beam,
                       const bk_evidence_set *evidence)
{
    const double nearer = reference_cm / skin_cm;
    return air_kerma_gy * nearer * nearer * bk_evidence_value(evidence, BK_EVIDENCE("skin_backscatter")) *
           (table_in_beam ? bk_evidence_value(evidence, BK_EVIDENCE("skin_table")) : 1) *
           bk_evidence_value(evidence, BK_EVIDENCE("skin_tissue"));
}

const char *bk_skin_band_row(double skin_dose_gy, const bk_evidence_set *evidence)
{
    static const char *const bands[] = {BK_EVIDENCE("skin_band_0"), BK_EVIDENCE("skin_band_2"),
                                        BK_EVIDENCE("skin_band_5"), BK_EVIDENCE("skin_band_10")};
    if (isnan(skin_dose_gy))
        return NULL;
    for (size_t i = 0; i < sizeof bands / sizeof bands[0]; i++)
        if (!bk_at_least(skin_dose_gy, bk_evidence_high(evidence, bands[i])))
            return bands[i];
    return BK_EVIDENCE("skin_band_15");
}
