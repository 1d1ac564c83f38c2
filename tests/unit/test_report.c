/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <stdlib.h>
#include <string.h>

#include "base/json.h"
#include "report/report.h"

/* An invented measurement, small but whole. */
static bk_json *invented(void)
{
    static const char text[] =
        "{\"schema\":\"branchkeep.measurement/1\",\"source\":{\"file_sha256\":\"ab\",\"frame\":1},\"stage\":\"baseline\","
        "\"calibration\":{\"mm_per_px\":0.25,\"sd_pct\":1.3,\"origin\":\"isocentre\",\"agreement\":\"single\"},\"branch_point_px\":[60,60],"
        "\"segments\":{\"proximal\":S,\"distal\":S,\"side\":S},\"core\":{\"diameter_mm\":{\"value\":3.5,\"sd\":0.1,\"origin\":\"measured\"},"
        "\"centre_px\":[60,60],\"radius_px\":7},\"angles\":{\"distal_side_deg\":{\"value\":50,\"sd\":2,\"origin\":\"projected\"}},"
        "\"medina\":\"1,1,0\",\"medina_alternatives\":[{\"medina\":\"1,1,0\",\"probability_pct\":90}],\"fit\":{\"mode\":\"edge\"},"
        "\"warnings\":[{\"code\":\"one_view\",\"message\":\"<script>alert(1)</script> & \\u0007\"}]}";
    static const char segment[] =
        "{\"reference_mm\":{\"value\":3.1,\"sd\":0.05,\"origin\":\"measured\"},\"mld_mm\":{\"value\":1.2,\"sd\":0.05,\"origin\":\"measured\"},"
        "\"stenosis_pct\":{\"value\":61,\"sd\":2,\"origin\":\"measured\"},\"lesion_length_mm\":null,\"mld_position_mm\":4,"
        "\"profile\":{\"position_mm\":[2,3,4,5,6,7,8,9,10],\"x_px\":[68,72,76,80,84,88,92,96,100],\"y_px\":[60,60,61,62,62,63,64,65,66],"
        "\"diameter_mm\":[3,2.5,1.2,2.4,3,3,3,3,3],\"sd_mm\":[0.1,0.1,0.1,0.1,0.1,0.1,0.1,0.1,0.1],"
        "\"reference_mm\":[3.1,3.1,3.1,3.1,3.1,3.1,3.1,3.1,3.1],\"left_px\":[[68,54],[72,55],[76,58],[80,57],[84,56],[88,57],[92,58],[96,59],[100,60]],"
        "\"right_px\":[[68,66],[72,65],[76,63],[80,67],[84,68],[88,69],[92,70],[96,71],[100,72]]}}";
    char *full = malloc(sizeof text + 3 * sizeof segment);
    char *to = full;
    for (const char *at = text; *at; at++)
        if (at[0] == 'S' && at[-1] == ':') {
            memcpy(to, segment, sizeof segment - 1);
            to += sizeof segment - 1;
        } else {
            *to++ = *at;
        }
    bk_json *out;
    bk_err err = {0};
    if (bk_json_read(full, (size_t)(to - full), &out, &err) != BK_OK)
        fail_msg("%s", err.message);
    free(full);
    return out;
}

static const uint16_t pixels[128 * 128] = {1, 2, 3};
static const bk_report_picture picture = {pixels, 128, 128, 0, 3, false};

static bk_report_input input_of(const bk_json *m)
{
    return (bk_report_input){.measurement = m, .picture = &picture, .engine = "branchkeep test", .caution = "verify", .date = NULL};
}

static void test_report__is_the_same_bytes_twice_and_escapes(void **state)
{
    (void)state;
    bk_err err = {0};
    bk_json *m = invented();
    const bk_report_input in = input_of(m);
    bk_report_bytes a, b;
    assert_int_equal(bk_report_html(&in, &a, &err), BK_OK);
    assert_int_equal(bk_report_html(&in, &b, &err), BK_OK);
    assert_true(a.n == b.n && memcmp(a.bytes, b.bytes, a.n) == 0);
    assert_null(strstr(a.bytes, "<script"));
    assert_non_null(strstr(a.bytes, "&lt;script&gt;alert(1)&lt;/script&gt; &amp;"));
    assert_non_null(strstr(a.bytes, "3.10 \u00b1 0.05 mm"));
    free(a.bytes);
    free(b.bytes);
    assert_int_equal(bk_report_pdf(&in, &a, &err), BK_OK);
    assert_int_equal(bk_report_pdf(&in, &b, &err), BK_OK);
    assert_true(a.n == b.n && memcmp(a.bytes, b.bytes, a.n) == 0 && memcmp(a.bytes, "%PDF", 4) == 0);
    free(a.bytes);
    free(b.bytes);
    bk_json_free(m);
}

/* Each member of the document, one after the other, is taken away, emptied or made absurd: no crash, always a report. */
static void draw_without(const char *parent, const char *key, int way)
{
    bk_json *m = invented(), *at = parent ? bk_json_path(m, parent) : m;
    bk_err err = {0};
    bk_report_bytes out;
    if (way == 0)
        bk_json_drop(at, key);
    else if (way == 1)
        bk_json_put_null(at, key);
    else
        bk_json_put_real(at, key, way == 2 ? 1e300 : -1);
    const bk_report_input in = input_of(m);
    assert_int_equal(bk_report_html(&in, &out, &err), BK_OK);
    free(out.bytes);
    assert_int_equal(bk_report_pdf(&in, &out, &err), BK_OK);
    free(out.bytes);
    bk_json_free(m);
}

static void test_report__survives_any_missing_member(void **state)
{
    (void)state;
    static const char *const parents[] = {NULL, "segments", "segments.side", "segments.side.profile", "core", "calibration"};
    bk_json *m = invented();
    for (size_t p = 0; p < sizeof parents / sizeof parents[0]; p++) {
        const bk_json *at = parents[p] ? bk_json_path(m, parents[p]) : m;
        bk_json *value;
        for (size_t i = 0; i < bk_json_count(at); i++)
            for (int way = 0; way < 4; way++)
                draw_without(parents[p], bk_json_key_at(at, i, &value), way);
    }
    bk_json_free(m);
}

static void test_report__needs_no_document_at_all(void **state)
{
    (void)state;
    bk_err err = {0};
    bk_report_bytes out;
    const bk_report_input in = {.engine = "x", .caution = "y"};
    assert_int_equal(bk_report_html(&in, &out, &err), BK_OK);
    assert_non_null(strstr(out.bytes, "cannot say"));
    free(out.bytes);
}

static bk_json *parsed(const char *text)
{
    bk_json *out;
    bk_err err = {0};
    if (bk_json_read(text, strlen(text), &out, &err) != BK_OK)
        fail_msg("%s", err.message);
    return out;
}

/* Whatever an answer on flow holds, both papers are drawn; with it the page has one drawing more. */
static void test_report__pull_back(void **state)
{
    (void)state;
    static const char *const flows[] = {
        "{\"before\":null}", "{\"before\":{}}",
        "{\"before\":{\"proximal\":{\"pull_back\":null},\"distal\":{\"ffr\":{\"value\":0.7},\"pull_back\":{\"position_mm\":[0,1],"
        "\"pd_pa\":[1]}}}}",
        "{\"before\":{\"proximal\":{\"pull_back\":{\"position_mm\":[0,1e300],\"pd_pa\":[null,-5]}},\"side\":{\"measured\":{\"value\":0.8},"
        "\"pull_back\":{\"position_mm\":[\"x\",-1e300],\"pd_pa\":[1e300,0.2]}}}}"};
    bk_json *m = invented();
    bk_err err = {0};
    bk_report_bytes out;
    bk_report_input in = input_of(m);
    assert_int_equal(bk_report_html(&in, &out, &err), BK_OK);
    assert_null(strstr(out.bytes, "Pd/Pa along the vessel"));
    free(out.bytes);
    for (size_t i = 0; i < sizeof flows / sizeof flows[0]; i++) {
        bk_json *flow = parsed(flows[i]);
        in.flow = flow;
        assert_int_equal(bk_report_html(&in, &out, &err), BK_OK);
        assert_non_null(strstr(out.bytes, "Pd/Pa along the vessel"));
        free(out.bytes);
        assert_int_equal(bk_report_pdf(&in, &out, &err), BK_OK);
        free(out.bytes);
        bk_json_free(flow);
    }
    bk_json_free(m);
}

static bool draws(const bk_json *solid, const bk_json *views)
{
    bk_err err = {0};
    bk_report_bytes one, again, sheet;
    assert_int_equal(bk_solid_svg(solid, -25, 20, &one, &err), BK_OK);
    assert_int_equal(bk_solid_svg(solid, -25, 20, &again, &err), BK_OK);
    assert_int_equal(strlen(again.bytes), again.n); /* surfaces are numbered on, and the numbers taken out */
    assert_int_equal(one.n, again.n);
    assert_memory_equal(one.bytes, again.bytes, one.n);
    assert_int_equal(bk_views_svg(views, solid, &sheet, &err), BK_OK);
    const bool sound = !strstr(one.bytes, "nan") && !strstr(sheet.bytes, "nan") && !strstr(one.bytes, "inf");
    free(one.bytes);
    free(again.bytes);
    free(sheet.bytes);
    return sound;
}

/* Documents that say too little, or nonsense: something is drawn, or said, and nothing crashes. */
static void test_report__drawings_in_space_survive_odd_documents(void **state)
{
    (void)state;
    static const char *const solids[] = {
        "{}",
        "{\"segments\":{\"proximal\":{\"points_mm\":[[0,0,0]],\"diameter_mm\":[3]}}}",
        "{\"segments\":{\"proximal\":{\"points_mm\":[[0,0,0],[0,0,\"x\"],[1]],\"diameter_mm\":[3,1e300,-4]},\"side\":7}}",
        ("{\"segments\":{\"proximal\":{\"points_mm\":[[0,0,0],[0,0,0],[1e200,0,0],[0,749,0],[3,0,5]],\"diameter_mm\":[3,3,3,3],\"sd_mm\":[1e9]},"
        "\"distal\":{\"points_mm\":[[0,0,0],[0,-9,0]],\"diameter_mm\":[3,3]},\"side\":{\"points_mm\":{},\"diameter_mm\":[]}}}")};
    static const char *const views[] = {
        "{}", "{\"purposes\":[{}],\"map\":{\"primary_deg\":[0,0],\"secondary_deg\":[1,0]}}",
        "{\"purposes\":[{\"id\":\"carina\",\"text\":\"<b>\"}],\"map\":{\"primary_deg\":[0,5],\"secondary_deg\":[0,5],\"loss_pct\":{\"carina\":[[1]]}},"
        "\"best\":[{\"purpose\":\"carina\",\"rank\":1,\"primary_deg\":1e300,\"secondary_deg\":\"x\"}],\"reach\":{\"primary_deg\":[1e9,-1e9]}}",
        "{\"second_view\":{\"regions\":[{\"secondary_deg\":0,\"primary_deg\":[[1,2],3]}],\"first\":{\"primary_deg\":500}},\"reach\":{\"primary_deg\":[-60,60],"
        "\"secondary_deg\":[-40,40]}}"};
    for (size_t i = 0; i < 4; i++) {
        bk_json *solid = parsed(solids[i]), *sheet = parsed(views[i]);
        assert_true(draws(solid, sheet));
        bk_json_free(solid);
        bk_json_free(sheet);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_report__is_the_same_bytes_twice_and_escapes),
        cmocka_unit_test(test_report__survives_any_missing_member),
        cmocka_unit_test(test_report__pull_back),
        cmocka_unit_test(test_report__needs_no_document_at_all),
        cmocka_unit_test(test_report__drawings_in_space_survive_odd_documents),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
