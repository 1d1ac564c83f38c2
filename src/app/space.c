/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/space.h"

#include <stdlib.h>
#include <string.h>

#include "app/rebuild.h"
#include "app/views.h"
#include "core/anatomy/space/sight.h"
#include "report/report.h"

static const char *film_of(const bk_json *measurement)
{
    return bk_json_text(bk_json_path(measurement, "source.file_sha256"));
}

static bool same_stage(const bk_json *a, const bk_json *b)
{
    return strcmp(bk_json_text(bk_json_get(a, "stage")), bk_json_text(bk_json_get(b, "stage"))) == 0;
}

/* The newest of each film, newest first. */
static size_t choose(const bk_json *list, const bk_json *chosen[BK_SIGHTS_MAX])
{
    size_t n = 0;
    for (size_t k = bk_json_count(list); k-- > 0 && n < BK_SIGHTS_MAX;) {
        const bk_json *const one = bk_json_at(list, k);
        bool seen = n > 0 && !same_stage(one, chosen[0]);
        for (size_t i = 0; i < n; i++)
            seen = seen || strcmp(film_of(one), film_of(chosen[i])) == 0;
        if (!seen)
            chosen[n++] = one;
    }
    return n;
}

static bk_status drawn(const bk_json *views, const bk_json *solid, bk_json *out, bk_err *err)
{
    bk_report_bytes svg;
    const bk_status status = bk_views_svg(views, solid, &svg, err);
    if (status == BK_OK)
        bk_json_put_text(out, "svg", svg.bytes);
    free(svg.bytes);
    return status;
}

bk_status bk_app_space(const bk_json *case_doc, bk_json **out, bk_err *err)
{
    static const bk_app_views_options options = {0};
    const bk_json *chosen[BK_SIGHTS_MAX];
    const size_t n = choose(bk_json_get(case_doc, "measurements"), chosen);
    bk_json *solid = NULL, *views = NULL;
    *out = NULL;
    if (n == 0)
        return bk_fail(err, BK_E_NOTHING, "no measurement was found in the case, one or more were expected");
    bk_status status = n < BK_SIGHTS_MIN ? BK_OK : bk_app_rebuild(chosen, n, &solid, err);
    if (status == BK_OK)
        status = bk_app_views(solid ? solid : chosen[0], &options, &views, err);
    bk_json *const answer = bk_json_object();
    if (status == BK_OK)
        status = drawn(views, solid, answer, err);
    char *drawing = NULL;
    if (status == BK_OK && solid)
        status = bk_app_solid_drawing(solid, &drawing, err);
    if (status != BK_OK) {
        bk_json_free(solid);
        bk_json_free(views);
        bk_json_free(answer);
        return status;
    }
    bk_json_put_text(answer, "drawing", drawing);
    free(drawing);
    bk_json_put_integer(answer, "of", (int64_t)n);
    bk_json_put(answer, "solid", solid ? solid : bk_json_new_null());
    bk_json_put(answer, "views", views);
    *out = answer;
    return BK_OK;
}
