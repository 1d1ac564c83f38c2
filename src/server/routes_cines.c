/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/measure_request.h"
#include "app/pick.h"
#include "base/number.h"
#include "server/routes.h"

void bk_route_cines(bk_request *request)
{
    bk_json *json;
    bk_err err = {0};
    bk_server *server = request->server;
    pthread_mutex_lock(&server->cases_lock);
    const bk_status status = bk_cases_cines(server->cases, &json, &err);
    pthread_mutex_unlock(&server->cases_lock);
    if (status == BK_OK)
        bk_reply_json(request, 200, json);
    else
        bk_reply_status(request, &err);
}

void bk_route_put_cine(bk_request *request)
{
    char id[65];
    bk_err err = {0};
    bk_server *server = request->server;
    if (request->file < 0) {
        bk_reply_error(request, 422, "an empty file was found, a DICOM file was expected");
        return;
    }
    pthread_mutex_lock(&server->cases_lock);
    const bk_status status = bk_cases_put_cine(server->cases, request->file_path, id, &err);
    pthread_mutex_unlock(&server->cases_lock);
    if (status != BK_OK) {
        bk_reply_status(request, &err);
        return;
    }
    bk_json *json = bk_json_object();
    bk_json_put_text(json, "sha256", id);
    bk_events_tell(&server->events, "cine", bk_json_copy(json));
    bk_reply_json(request, 200, json);
}

static bk_status path_of(bk_request *request, const char *id, char **path, bk_err *err)
{
    bk_server *server = request->server;
    pthread_mutex_lock(&server->cases_lock);
    const bk_status status = bk_cases_cine_path(server->cases, id, path, err);
    pthread_mutex_unlock(&server->cases_lock);
    return status;
}

/* To be given back with close_cine. */
static bk_status open_cine(bk_request *request, bk_cine **out, bk_err *err)
{
    const char *id = request->part[0];
    char *path = NULL;
    *out = bk_shelf_take(&request->server->shelf, id);
    if (*out)
        return BK_OK;
    bk_status status = path_of(request, id, &path, err);
    if (status == BK_OK)
        status = bk_cine_open(path, out, err);
    free(path);
    return status;
}

static void close_cine(bk_request *request, bk_cine *cine)
{
    if (cine)
        bk_shelf_put(&request->server->shelf, request->part[0], cine);
}

void bk_route_cine(bk_request *request)
{
    bk_cine *cine;
    bk_json *json;
    bk_err err = {0};
    bk_status status = open_cine(request, &cine, &err);
    if (status == BK_OK)
        status = bk_cine_describe(cine, &json, &err);
    close_cine(request, cine);
    if (status == BK_OK)
        bk_reply_json(request, 200, json);
    else
        bk_reply_status(request, &err);
}

void bk_route_frame(bk_request *request)
{
    bk_cine *cine;
    bk_err err = {0};
    int64_t frame;
    unsigned char *bytes;
    if (!bk_integer_read(request->part[1], strlen(request->part[1]), &frame) || frame < 1 ||
        frame > INT32_MAX) {
        bk_reply_error(request, 400, "frame \"%.20s\" was found, a whole number from 1 was expected",
                       request->part[1]);
        return;
    }
    bk_status status = open_cine(request, &cine, &err);
    if (status == BK_OK)
        status = bk_cine_frame(cine, (int32_t)frame, &bytes, &request->reply_n, &err);
    close_cine(request, cine);
    if (status != BK_OK) {
        bk_reply_status(request, &err);
        return;
    }
    request->reply = bytes;
    request->code = 200;
    request->type = "application/octet-stream";
}

void bk_route_pick(bk_request *request)
{
    char *path = NULL;
    bk_json *json;
    bk_err err = {0};
    bk_status status = path_of(request, request->part[0], &path, &err);
    if (status == BK_OK)
        status = bk_app_pick(path, &json, &err);
    if (status == BK_OK)
        bk_reply_json(request, 200, json);
    else
        bk_reply_status(request, &err);
    free(path);
}

void bk_route_measure(bk_request *request)
{
    bk_measure_options options;
    char *path = NULL;
    bk_json *result;
    bk_err err = {0};
    bk_json *json = bk_request_json(request);
    if (!json)
        return;
    bk_status status = bk_app_measure_request(json, &options, &err);
    if (status == BK_OK)
        status = path_of(request, bk_json_text(bk_json_get(json, "cine")), &path, &err);
    if (status == BK_OK) {
        options.path = path;
        options.file_sha256 =
            bk_json_text(bk_json_get(json, "cine")); /* the store names cines by their content */
        status = bk_app_measure(&options, &result, &err);
    }
    if (status == BK_OK)
        bk_reply_json(request, 200, result);
    else
        bk_reply_status(request, &err);
    free(path);
    bk_json_free(json);
}
