/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/views.h"

#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "app/solid_read.h"
#include "app/views_json.h"
#include "base/evidence.h"
#include "base/file.h"
#include "report/report.h"

_Static_assert(BK_APP_VIEWS_TOP_MAX == BK_VIEWS_TOP_MAX, "the most that the search can tell");

#define MEMORY_CAP ((size_t)256 * 1024 * 1024)
#define SOURCE_LEAST_MM 400.0
#define SOURCE_MOST_MM 2000.0

static void reach_of(const bk_app_views_options *o, double primary[2], double secondary[2])
{
    const bk_evidence_set *evidence = bk_evidence_builtin();
    primary[0] = o->primary_entered ? o->primary_deg[0] : bk_evidence_low(evidence, BK_EVIDENCE("views_primary_reach"));
    primary[1] = o->primary_entered ? o->primary_deg[1] : bk_evidence_high(evidence, BK_EVIDENCE("views_primary_reach"));
    secondary[0] = o->secondary_entered ? o->secondary_deg[0] : bk_evidence_low(evidence, BK_EVIDENCE("views_secondary_reach"));
    secondary[1] = o->secondary_entered ? o->secondary_deg[1] : bk_evidence_high(evidence, BK_EVIDENCE("views_secondary_reach"));
}

static void put_reach(bk_answer *answer, const bk_app_views_options *o, const double primary[2], const double secondary[2])
{
    bk_json *reach = bk_json_object();
    bk_json_put_reals(reach, "primary_deg", primary, 2, 1);
    bk_json_put_reals(reach, "secondary_deg", secondary, 2, 1);
    bk_json_put_text(reach, "primary_origin", o->primary_entered ? "entered" : "assumed");
    bk_json_put_text(reach, "secondary_origin", o->secondary_entered ? "entered" : "assumed");
    bk_json_put(answer->json, "reach", reach);
    if (!o->primary_entered)
        bk_answer_source(answer, BK_EVIDENCE("views_primary_reach"));
    if (!o->secondary_entered)
        bk_answer_source(answer, BK_EVIDENCE("views_secondary_reach"));
    bk_answer_caution(answer, "Reach taken as primary %g to %g, secondary %g to %g degrees%s; whether the C-arm gets there past table, patient and itself is seen in the room.",
                      primary[0], primary[1], secondary[0], secondary[1],
                      o->primary_entered && o->secondary_entered ? "" : " (in part a choice of this project)");
}

/* Source to isocentre: from the first view the solid was built of, else a common value. */
static double source_distance(const bk_json *solid, bk_answer *answer)
{
    static const char *const paths[] = {"geometry.sod_mm", "views.0.geometry.sod_mm"};
    double mm = (double)NAN;
    for (size_t i = 0; i < 2 && !(mm >= SOURCE_LEAST_MM && mm <= SOURCE_MOST_MM); i++)
        mm = bk_json_number(bk_json_path(solid, paths[i]));
    const bool known = mm >= SOURCE_LEAST_MM && mm <= SOURCE_MOST_MM;
    if (!known) {
        mm = bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("views_source_distance"));
        bk_answer_source(answer, BK_EVIDENCE("views_source_distance"));
        bk_answer_caution(answer, "The document does not say how far source and isocentre lie apart: %g mm were assumed.", mm);
    }
    bk_json_put_qty(answer->json, "sod_mm", bk_qty_of(mm, (double)NAN, known ? BK_MEASURED : BK_ASSUMED), 1);
    return mm;
}

static void put_uncertainty(bk_answer *answer, const bk_app_solid *solid, const bk_views *views)
{
    bk_json *out = bk_json_object();
    double direction[BK_LIMBS], position[BK_LIMBS];
    for (int i = 0; i < BK_LIMBS; i++) {
        direction[i] = solid->limb[i].direction_sd_deg;
        position[i] = solid->limb[i].position_sd_mm;
    }
    bk_json_put(out, "direction_sd_deg", bk_limbs_json(direction, 2));
    bk_json_put(out, "position_sd_mm", bk_limbs_json(position, 3));
    bk_json_put_text(out, "direction_origin", solid->direction_assumed ? "assumed" : "derived");
    bk_json_put(answer->json, "limbs", out);
    bk_json_put(answer->json, "joined_mm", bk_limbs_json(views->joined_mm, 1));
    bk_json_put_fixed(answer->json, "distal_side_deg", views->distal_side_deg, 1);
    if (solid->direction_assumed) {
        bk_answer_source(answer, BK_EVIDENCE("views_angle_two_views"));
        bk_answer_caution(answer, "The document does not say how well the limbs' directions are known: the published spread of an angle from two views was taken.");
    }
    if (solid->position_assumed)
        bk_answer_source(answer, BK_EVIDENCE("length_accuracy_two_views"));
}

static void put_rules(bk_answer *answer)
{
    static const char *const rows[] = {BK_EVIDENCE("views_apart"), BK_EVIDENCE("views_overlap_weight"), BK_EVIDENCE("views_overlap_tolerated"),
                                       BK_EVIDENCE("foreshortening_used"), BK_EVIDENCE("foreshortening_computed"),
                                       BK_EVIDENCE("view_unreachable")};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        bk_answer_source(answer, rows[i]);
    bk_answer_caution(answer, "Views hold for the heart phase and breath in which the limbs were measured, and for the vessel near the isocentre.");
}

static bk_status from_solid(const bk_json *document, const bk_app_views_options *o, bk_answer *answer, bk_arena *arena, bk_err *err)
{
    const bk_evidence_set *evidence = bk_evidence_builtin();
    bk_app_solid solid;
    bk_views views;
    bk_status status = bk_app_solid_read(document, arena, &solid, err);
    if (status != BK_OK)
        return status;
    bk_views_input input = {.limb = solid.limb,
                            .overlap_weight = bk_evidence_value(evidence, BK_EVIDENCE("views_overlap_weight")),
                            .overlap_tolerated = bk_evidence_value(evidence, BK_EVIDENCE("views_overlap_tolerated")) / 100,
                            .apart_deg = bk_evidence_value(evidence, BK_EVIDENCE("views_apart")),
                            .top = o->top > 0 ? o->top : BK_APP_VIEWS_TOP};
    reach_of(o, input.primary_deg, input.secondary_deg);
    put_reach(answer, o, input.primary_deg, input.secondary_deg);
    input.sod_mm = source_distance(document, answer);
    status = bk_views_search(&input, arena, &views, err);
    if (status != BK_OK)
        return status;
    bk_json_put_fixed(answer->json, "step_deg", BK_VIEWS_STEP_DEG, 1);
    put_uncertainty(answer, &solid, &views);
    bk_views_json_fill(answer->json, &input, &views);
    bk_json_put_null(answer->json, "second_view");
    put_rules(answer);
    return BK_OK;
}

static bk_status from_measurement(const bk_json *document, const bk_app_views_options *o, bk_answer *answer, bk_err *err)
{
    double primary[2], secondary[2];
    bk_second_view second;
    bool known;
    reach_of(o, primary, secondary);
    bk_status status = bk_views_check_reach(primary, secondary, err);
    if (status != BK_OK)
        return status;
    put_reach(answer, o, primary, secondary);
    bk_views_one_fill(answer, document, primary, secondary, &second, &known);
    return BK_OK;
}

static bk_status write_svg(const char *path, const bk_json *views, const bk_json *solid, bk_err *err)
{
    bk_report_bytes svg;
    bk_status status = bk_views_svg(views, solid, &svg, err);
    if (status == BK_OK)
        status = bk_file_write(path, svg.bytes, svg.n, err);
    free(svg.bytes);
    return status;
}

bk_status bk_app_views(const bk_json *document, const bk_app_views_options *options, bk_json **out, bk_err *err)
{
    const char *schema = bk_json_text(bk_json_get(document, "schema"));
    const bool one = strcmp(schema, "branchkeep.measurement/1") == 0;
    *out = NULL;
    if (!one && strcmp(schema, "branchkeep.solid/1") != 0)
        return bk_fail(err, BK_E_DATA, "schema \"%.40s\" was found, branchkeep.solid/1 or branchkeep.measurement/1 was expected", schema);
    bk_arena arena;
    bk_arena_init(&arena, MEMORY_CAP);
    bk_answer answer = bk_answer_start("views");
    bk_json_put_text(answer.json, "schema", "branchkeep.views/1");
    bk_json_drop(answer.json, "topic");
    bk_json_drop(answer.json, "inputs"); /* in their places: from, reach, sod_mm, limbs */
    bk_json_put_text(answer.json, "from", schema);
    bk_status status = one ? from_measurement(document, options, &answer, err) : from_solid(document, options, &answer, &arena, err);
    const bk_json *warnings = bk_json_get(document, "warnings");
    bk_json_put(answer.json, "warnings", warnings ? bk_json_copy(warnings) : bk_json_array());
    bk_json *json = bk_answer_finish(&answer);
    bk_arena_clear(&arena);
    if (status == BK_OK && options->svg)
        status = write_svg(options->svg, json, one ? NULL : document, err);
    if (status == BK_OK)
        *out = json;
    else
        bk_json_free(json);
    return status;
}
