/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/rebuild.h"

#include <math.h>
#include <string.h>

#include "app/app.h"
#include "app/solid_json.h"
#include "app/views.h"
#include "base/evidence.h"
#include "base/format.h"
#include "core/anatomy/space/doubts.h"
#include "core/case/measured.h"
#include "report/report.h"

#define MEMORY_CAP ((size_t)256 * 1024 * 1024)
#define SCHEMA "branchkeep.measurement/1"

static bk_status read_document(const bk_json *doc, bk_arena *arena, bk_measured *out, bk_err *err)
{
    const char *const schema = bk_json_text(bk_json_get(doc, "schema"));
    if (strcmp(schema, SCHEMA) != 0)
        return bk_fail(err, BK_E_DATA, "schema \"%.60s\" was found, %s was expected", schema, SCHEMA);
    return bk_fields_read(bk_measured_fields, doc, BK_KEYS_KEPT, arena, out, err);
}

static bk_status take_carm(const bk_measured *m, bk_carm *out, bk_err *err)
{
    const bk_measured_geometry *const g = &m->geometry;
    const bool whole = isfinite(g->primary_deg) && isfinite(g->secondary_deg) && isfinite(g->sid_mm) && isfinite(g->sod_mm) &&
                       g->imager_spacing_mm.n == 2 && m->source.rows > 0 && m->source.columns > 0;
    if (!whole)
        return bk_fail(err, BK_E_DATA, "the C-arm's geometry is not complete, both angles, SID, SOD, pixel spacing and the size of the frame were expected");
    const double *const spacing = BK_ITEMS(g->imager_spacing_mm, double);
    *out = (bk_carm){.primary_deg = g->primary_deg, .secondary_deg = g->secondary_deg, .sid_mm = g->sid_mm, .sod_mm = g->sod_mm,
                     .spacing_mm = {spacing[0], spacing[1]}, .rows = m->source.rows, .cols = m->source.columns};
    return bk_carm_set(out, err);
}

static const bk_measured_limb *limb_of(const bk_measured *m, size_t limb)
{
    return limb == BK_PROXIMAL ? &m->segments.proximal : limb == BK_DISTAL ? &m->segments.distal : &m->segments.side;
}

static bk_status take_limb(const bk_measured *m, size_t limb, bk_pt_px branch, bk_arena *arena, bk_sight_limb *out, bk_err *err)
{
    const bk_measured_limb *const l = limb_of(m, limb);
    const bk_measured_profile *const p = &l->profile;
    const size_t n = p->x_px.n;
    if (n < 2 || p->y_px.n != n || p->diameter_mm.n != n || p->sd_mm.n != n || p->reference_mm.n != n)
        return bk_fail(err, BK_E_DATA, "segments.%s.profile has lists of %zu, %zu, %zu, %zu and %zu entries, equally many and two or more were expected",
                       bk_limb_name((int)limb), n, p->y_px.n, p->diameter_mm.n, p->sd_mm.n, p->reference_mm.n);
    const bk_sight_profile profile = {n, BK_ITEMS(p->x_px, double), BK_ITEMS(p->y_px, double), BK_ITEMS(p->diameter_mm, double),
                                      BK_ITEMS(p->sd_mm, double), BK_ITEMS(p->reference_mm, double), m->calibration.mm_per_px,
                                      isfinite(l->mld_mm.sd) ? l->mld_mm.sd : 0, isfinite(l->reference_mm.sd) ? l->reference_mm.sd : 0,
                                      l->occluded == BK_YES};
    return bk_sight_limb_new(branch, &profile, arena, out, err);
}

static bk_status take_sight(const bk_measured *m, bk_arena *arena, bk_sight *out, bk_err *err)
{
    bk_status status = take_carm(m, &out->carm, err);
    if (status == BK_OK && (m->branch_point_px.n != 2 || !(m->calibration.mm_per_px > 0)))
        status = bk_fail(err, BK_E_DATA, "no branch point or no scale was found, a measurement with both was expected");
    if (status != BK_OK)
        return status;
    const double *const at = BK_ITEMS(m->branch_point_px, double), *const sd = BK_ITEMS(m->branch_point_sd_px, double);
    out->branch_sd_px = m->branch_point_sd_px.n == 2 ? hypot(sd[0], sd[1]) / sqrt(2) : 0;
    for (size_t limb = 0; limb < BK_LIMBS && status == BK_OK; limb++)
        status = take_limb(m, limb, (bk_pt_px){at[0], at[1]}, arena, &out->limb[limb], err);
    return status;
}

/* One heart, one moment, one stage? */
static bk_status compare(const bk_measured *m, size_t n, bk_json *warnings, bk_err *err)
{
    const double apart_most = bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("phase_apart_most"));
    char text[160];
    for (size_t k = 1; k < n; k++) {
        const char *const a = m[0].source.patient_hash, *const b = m[k].source.patient_hash;
        if (a[0] != '\0' && b[0] != '\0' && strcmp(a, b) != 0)
            return bk_fail(err, BK_E_DATA, "measurements 1 and %zu are of different patients, one patient was expected", k + 1);
        if (m[k].stage != m[0].stage) {
            bk_format(text, sizeof text, "measurements 1 and %zu are of different stages (%s, %s)", k + 1,
                      bk_stage_words[m[0].stage], bk_stage_words[m[k].stage]);
            bk_solid_json_warn(warnings, "stage_differs", text);
        }
        const double phases = fabs(m[k].source.phase_pct - m[0].source.phase_pct), apart = fmin(phases, 100 - phases);
        if (!isfinite(apart)) {
            bk_format(text, sizeof text, "whether measurements 1 and %zu show the same phase of the beat is not known", k + 1);
            bk_solid_json_warn(warnings, "phase_unknown", text);
        } else if (apart > apart_most) {
            bk_format(text, sizeof text, "measurements 1 and %zu lie %.0f %% of a beat apart: the heart has another shape", k + 1, apart);
            bk_solid_json_warn(warnings, "phase_differs", text);
        }
    }
    return BK_OK;
}

static bk_status rebuild(const bk_json *const *doc, size_t n, bk_arena *arena, bk_json *warnings, bk_json **out, bk_err *err)
{
    const bk_evidence_set *const evidence = bk_evidence_builtin();
    const double breath = bk_evidence_value(evidence, BK_EVIDENCE("breathing_shift"));
    const bk_space_options options = {.turn_sd_deg = bk_evidence_sd(evidence, BK_EVIDENCE("carm_angle_error")),
                                      .shift_sd_mm = bk_evidence_high(evidence, BK_EVIDENCE("breathing_shift")),
                                      .drift_sd_mm = breath / sqrt(3), /* one component of a shift in any direction */
                                      .covariance = true};
    const bk_space_limits limits = {bk_evidence_value(evidence, BK_EVIDENCE("view_separation_least")),
                                    bk_evidence_value(evidence, BK_EVIDENCE("view_separation_usual")),
                                    bk_evidence_high(evidence, BK_EVIDENCE("breathing_shift"))};
    bk_measured m[BK_SIGHTS_MAX];
    bk_sight sight[BK_SIGHTS_MAX];
    char place[32];
    bk_status status = BK_OK;
    for (size_t k = 0; k < n && status == BK_OK; k++) {
        status = read_document(doc[k], arena, &m[k], err);
        if (status == BK_OK)
            status = take_sight(&m[k], arena, &sight[k], err);
        bk_format(place, sizeof place, "measurement %zu", k + 1);
        if (status != BK_OK)
            return bk_fail_in(err, place);
    }
    status = compare(m, n, warnings, err);
    bk_space_solid solid;
    bk_space_doubts doubts = {0};
    if (status == BK_OK)
        status = bk_space_solid_new(sight, n, &options, arena, &solid, err);
    if (status == BK_OK)
        status = bk_space_doubts_find(sight, n, &options, &limits, &solid, arena, &doubts, err);
    if (status != BK_OK)
        return status;
    for (size_t k = 0; k < doubts.n; k++)
        bk_solid_json_warn(warnings, doubts.doubt[k].code, doubts.doubt[k].message);
    *out = bk_solid_json(&solid, doc, n, warnings);
    return BK_OK;
}

bk_status bk_app_rebuild(const bk_json *const *measurement, size_t n, bk_json **out, bk_err *err)
{
    *out = NULL;
    if (n < BK_SIGHTS_MIN || n > BK_SIGHTS_MAX)
        return bk_fail(err, BK_E_USAGE, "%zu measurements were found, %d to %d were expected", n, BK_SIGHTS_MIN, BK_SIGHTS_MAX);
    bk_arena arena;
    bk_arena_init(&arena, MEMORY_CAP);
    bk_json *const warnings = bk_json_array();
    const bk_status status = rebuild(measurement, n, &arena, warnings, out, err);
    if (status != BK_OK)
        bk_json_free(warnings);
    bk_arena_clear(&arena);
    return status;
}

/* The best view in reach for a purpose. */
static bool best_for(const bk_json *views, const char *purpose, double *primary_deg, double *secondary_deg)
{
    const bk_json *const best = bk_json_get(views, "best");
    for (size_t k = 0; k < bk_json_count(best); k++) {
        const bk_json *const one = bk_json_at(best, k);
        if (strcmp(bk_json_text(bk_json_get(one, "purpose")), purpose) != 0 || bk_json_number(bk_json_get(one, "rank")) != 1)
            continue;
        *primary_deg = bk_json_number(bk_json_get(one, "primary_deg"));
        *secondary_deg = bk_json_number(bk_json_get(one, "secondary_deg"));
        return true;
    }
    return false;
}

bk_status bk_app_solid_drawing(const bk_json *solid, char **svg, bk_err *err)
{
    static const bk_app_views_options options = {0};
    bk_json *views;
    double primary_deg = 0, secondary_deg = 0;
    *svg = NULL;
    bk_status status = bk_app_views(solid, &options, &views, err);
    if (status != BK_OK)
        return status;
    (void)best_for(views, "carina", &primary_deg, &secondary_deg); /* none: from the front */
    bk_json_free(views);
    bk_report_bytes bytes;
    status = bk_solid_svg(solid, primary_deg, secondary_deg, &bytes, err);
    if (status == BK_OK)
        *svg = bytes.bytes;
    return status;
}
