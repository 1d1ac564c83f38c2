/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>

#include "app/ask.h"
#include "app/space.h"
#include "server/routes.h"

void bk_route_cases(bk_request *request)
{
    bk_json *json;
    bk_err err = {0};
    bk_server *server = request->server;
    pthread_mutex_lock(&server->cases_lock);
    const bk_status status = bk_cases_list(server->cases, &json, &err);
    pthread_mutex_unlock(&server->cases_lock);
    if (status == BK_OK)
        bk_reply_json(request, 200, json);
    else
        bk_reply_status(request, &err);
}

static bk_status load(bk_request *request, const char *id, bk_json **out, bk_err *err)
{
    bk_server *server = request->server;
    pthread_mutex_lock(&server->cases_lock);
    const bk_status status = bk_cases_load(server->cases, id, request->revision, out, err);
    pthread_mutex_unlock(&server->cases_lock);
    return status;
}

void bk_route_case(bk_request *request)
{
    bk_json *json;
    bk_err err = {0};
    if (load(request, request->part[0], &json, &err) == BK_OK)
        bk_reply_json(request, 200, json);
    else
        bk_reply_status(request, &err);
}

static void save(bk_request *request, const bk_json *document, int based_on)
{
    bk_json *json;
    bool conflict = false;
    bk_err err = {0};
    bk_server *server = request->server;
    pthread_mutex_lock(&server->cases_lock);
    const bk_status status = bk_cases_save(server->cases, document, based_on, &json, &conflict, &err);
    pthread_mutex_unlock(&server->cases_lock);
    if (status != BK_OK) {
        bk_reply_status(request, &err);
        return;
    }
    if (!conflict)
        bk_events_tell(&server->events, "case", bk_json_copy(json));
    bk_reply_json(request, conflict ? 409 : 200, json);
}

/* {"document": branchkeep.case/1, "based_on": revision} */
void bk_route_save(bk_request *request)
{
    bk_json *json = bk_request_json(request);
    if (!json)
        return;
    const bk_json *document = bk_json_get(json, "document");
    const double based_on = bk_json_number(bk_json_get(json, "based_on"));
    if (!bk_json_is_object(document) || !(based_on >= 0 && based_on < 1e9 && based_on == floor(based_on)))
        bk_reply_error(request, 400,
                       "a document (an object) and based_on (a whole number from 0) were expected");
    else
        save(request, document, (int)based_on);
    bk_json_free(json);
}

#define WHAT_IF_MAX 16

static void answer(bk_request *request, const bk_json *document, const bk_json *what_if)
{
    bk_json *json;
    bk_err err = {0};
    const char *changes[WHAT_IF_MAX];
    const size_t n = bk_json_count(what_if);
    bool texts = n <= WHAT_IF_MAX && (!what_if || bk_json_is_array(what_if));
    for (size_t i = 0; texts && i < n; i++) {
        changes[i] = bk_json_text(bk_json_at(what_if, i));
        texts = changes[i][0] != '\0';
    }
    if (!texts) {
        bk_reply_error(request, 400, "what_if: at most %d texts PATH=VALUE were expected", WHAT_IF_MAX);
        return;
    }
    const bk_ask ask = {request->part[0], changes, (int)n, 0, 0};
    if (bk_app_ask_with(&ask, request->server->shelf_file, document, &json, &err) == BK_OK)
        bk_reply_json(request, 200, json);
    else
        bk_reply_status(request, &err);
}

/* of a case in the store: ?case=ID&revision=N */
void bk_route_ask_kept(bk_request *request)
{
    bk_json *document;
    bk_err err = {0};
    if (load(request, request->case_id, &document, &err) != BK_OK) {
        bk_reply_status(request, &err);
        return;
    }
    answer(request, document, NULL);
    bk_json_free(document);
}

/* of a case that is not saved yet: the body is the document, or {"document": ..., "what_if": ["PATH=VALUE", ...]} */
void bk_route_ask(bk_request *request)
{
    bk_json *body = bk_request_json(request);
    if (!body)
        return;
    const bk_json *document = bk_json_get(body, "document");
    answer(request, document ? document : body, document ? bk_json_get(body, "what_if") : NULL);
    bk_json_free(body);
}

/* What the measurements of a case that need not be saved say about space. */
void bk_route_space(bk_request *request)
{
    bk_json *document = bk_request_json(request), *json;
    bk_err err = {0};
    if (!document)
        return;
    if (bk_app_space(document, &json, &err) == BK_OK)
        bk_reply_json(request, 200, json);
    else
        bk_reply_status(request, &err);
    bk_json_free(document);
}
