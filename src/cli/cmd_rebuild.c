/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdlib.h>
#include <string.h>

#include "app/rebuild.h"
#include "base/file.h"
#include "cli/cli.h"

#define FILES_MAX 16

static bk_status read_all(const char *const *words, int n, bk_json **docs, bk_err *err)
{
    bk_status status = BK_OK;
    for (int k = 0; k < n && status == BK_OK; k++)
        status = bk_json_read_file(words[k], &docs[k], err);
    return status;
}

static bk_status draw(const bk_json *solid, const char *path, bk_err *err)
{
    char *svg;
    bk_status status = bk_app_solid_drawing(solid, &svg, err);
    if (status == BK_OK)
        status = bk_file_write(path, svg, strlen(svg), err);
    free(svg);
    return status;
}

static bk_status run(int argc, char **argv, bk_err *err)
{
    const char *out_path = NULL, *svg_path = NULL, *words[FILES_MAX];
    int n;
    const bk_option options[] = {{"out", 1, &out_path, 0, NULL}, {"svg", 1, &svg_path, 0, NULL}, {0}};
    bk_status status = bk_options_read(argc, argv, options, words, FILES_MAX, &n, err);
    if (status == BK_OK && n < 2)
        status = bk_fail(err, BK_E_USAGE, "%d measurements were found, two or more were expected: M1.json M2.json", n);
    bk_json *docs[FILES_MAX] = {NULL}, *solid = NULL;
    if (status == BK_OK)
        status = read_all(words, n, docs, err);
    if (status == BK_OK)
        status = bk_app_rebuild((const bk_json *const *)docs, (size_t)n, &solid, err);
    for (int k = 0; k < FILES_MAX; k++)
        bk_json_free(docs[k]);
    if (status == BK_OK && svg_path)
        status = draw(solid, svg_path, err);
    if (status == BK_OK && out_path)
        status = bk_json_write_file(solid, out_path, err);
    if (status != BK_OK) {
        bk_json_free(solid);
        return status;
    }
    return bk_cli_answer(solid, err);
}

const bk_command bk_cmd_rebuild = {"rebuild", "M1.json M2.json [M3.json ...] [--out S.json] [--svg OUT.svg]",
                                   "put measurements of two or more views together: the bifurcation in space", run};
