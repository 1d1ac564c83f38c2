/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a browser, or who pretends to be one, says to the server, behind the HTTP library: lines with Host,
   Origin, Cookie, address, and behind them a body of JSON, read as the request for a measurement and as a
   case to be saved. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "app/ask.h"
#include "app/cases_inside.h"
#include "app/corrections.h"
#include "app/measure_request.h"
#include "core/anatomy/corrections.h"
#include "server/request.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);

enum { HOST, ORIGIN, COOKIE, PATH, LINES };

/* Only the exact words may be let in. */
static void try_guard(const char *const line[LINES])
{
    static const bk_guard guard = {8642, "0123456789abcdef0123456789abcdef",
                                   "fedcba9876543210fedcba9876543210", "branchkeep_8642"};
    const char *host = line[HOST];
    const bool own = strcmp(host, "127.0.0.1:8642") == 0 || strcmp(host, "localhost:8642") == 0 ||
                     strcmp(host, "[::1]:8642") == 0;
    if (bk_guard_host(&guard, host) != own)
        abort();
    if (bk_guard_origin(&guard, line[ORIGIN]) && strncmp(line[ORIGIN], "http://", 7) != 0)
        abort();
    if (bk_guard_cookie(&guard, line[COOKIE]) &&
        !strstr(line[COOKIE], "branchkeep_8642=fedcba9876543210fedcba9876543210"))
        abort();
    if (bk_guard_token(&guard, line[COOKIE]) != (strcmp(line[COOKIE], guard.token) == 0))
        abort();
}

static void try_path(const char *path)
{
    for (size_t i = 0; i < bk_routes_n; i++) {
        char part[BK_PARTS_MAX][BK_PART_TEXT] = {"", ""};
        if (!bk_path_fits(bk_routes[i].pattern, path, part))
            continue;
        for (int k = 0; k < BK_PARTS_MAX; k++)
            if (strchr(part[k], '/'))
                abort();
    }
}

static void agree(bk_status status, const bk_err *err)
{
    if (status != err->status || (status != BK_OK && !err->message[0]) || status == BK_E_INTERNAL)
        abort();
}

static void try_measure(const bk_json *json)
{
    bk_measure_options options;
    bk_err err = {0};
    const bk_status status = bk_app_measure_request(json, &options, &err);
    agree(status, &err);
    if (status != BK_OK)
        return;
    bk_arena arena;
    bk_corrections corrections;
    bk_arena_init(&arena, (size_t)64 << 20);
    agree(bk_app_corrections_read(&options.corrections, 512, 512, &arena, &corrections, &err), &err);
    bk_arena_clear(&arena);
    bk_json_free(bk_app_scale_given(&options));
}

/* What is kept of a document must be kept again as the same bytes; every topic answers it, or says why not.
 */
static void try_case(const bk_json *json)
{
    bk_kept kept, again;
    bk_err err = {0};
    const bk_status status = bk__kept_make(json, 1, &kept, &err);
    agree(status, &err);
    if (status != BK_OK)
        return;
    const char *topic;
    if (bk__kept_make(kept.doc, 1, &again, &err) != BK_OK || strcmp(kept.text, again.text) != 0)
        abort();
    for (size_t i = 0; (topic = bk_app_ask_topic_at(i)) != NULL; i++) {
        const bk_ask ask = {.topic = topic};
        bk_json *answer = NULL;
        bk_err refused = {0};
        agree(bk_app_ask(&ask, kept.doc, &answer, &refused), &refused);
        bk_json_free(answer);
    }
    bk__kept_clear(&again);
    bk__kept_clear(&kept);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    char *text = malloc(n + 1), *at = text;
    const char *line[LINES];
    bk_json *json = NULL;
    bk_err err = {0};
    if (!text)
        return 0;
    memcpy(text, bytes, n);
    text[n] = '\0';
    for (int i = 0; i < LINES; i++) {
        line[i] = at;
        at += strcspn(at, "\n");
        if (*at)
            *at++ = '\0';
    }
    try_guard(line);
    try_path(line[PATH]);
    if (bk_json_read(at, strlen(at), &json, &err) == BK_OK) {
        try_measure(json);
        try_case(json);
    }
    bk_json_free(json);
    free(text);
    return 0;
}
