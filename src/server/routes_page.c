/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <string.h>

#include "app/app.h"
#include "app/ask.h"
#include "app/emergencies.h"
#include "app/listings.h"
#include "base/file.h"
#include "base/format.h"
#include "server/assets.h"
#include "server/routes.h"

void bk_route_asset(bk_request *request)
{
    char sha[65];
    const bk_asset *asset = bk_asset_find(request->url);
    if (!asset) {
        bk_reply_error(request, 404, "there is nothing at this address");
        return;
    }
    bk_sha256(asset->bytes, asset->n, sha);
    bk_format(request->etag, sizeof request->etag, "\"%s\"", sha);
    const char *has = MHD_lookup_connection_value(request->connection, MHD_HEADER_KIND, "If-None-Match");
    request->type = asset->type;
    if (has && strcmp(has, request->etag) == 0) {
        request->code = 304;
        return;
    }
    request->code = 200;
    request->borrowed = asset->bytes;
    request->reply_n = asset->n;
}

/* The token of the address becomes a cookie, which scripts cannot read and other sites' requests do not
 * carry. */
void bk_route_session(bk_request *request)
{
    const bk_guard *guard = &request->server->guard;
    bk_json *json = bk_request_json(request);
    if (!json)
        return;
    if (!bk_guard_token(guard, bk_json_text(bk_json_get(json, "token")))) {
        bk_reply_error(
            request, 401,
            "another token was found, that of the address `branchkeep serve` printed was expected");
    } else {
        bk_format(request->cookie, sizeof request->cookie, "%s=%s; Path=/; HttpOnly; SameSite=Strict",
                  guard->cookie, guard->session);
        bk_reply_json(request, 200, bk_json_object());
    }
    bk_json_free(json);
}

void bk_route_events(bk_request *request)
{
    request->code = 200;
    request->streams = true;
}

void bk_route_about(bk_request *request)
{
    bk_json *json = bk_json_object(), *topics = bk_json_array();
    const char *topic;
    for (size_t i = 0; (topic = bk_app_ask_topic_at(i)) != NULL; i++)
        bk_json_push(topics, bk_json_new_text(topic));
    bk_json_put_text(json, "engine", bk_engine);
    bk_json_put_text(json, "caution", bk_caution);
    bk_json_put(json, "topics", topics);
    bk_json_put(json, "emergencies",
                bk_emergencies()); // with the page from its start: no request when they are needed
    bk_reply_json(request, 200, json);
}

void bk_route_fields(bk_request *request)
{
    bk_json *json;
    bk_err err = {0};
    if (bk_list_fields(request->part[0], &json, &err) == BK_OK)
        bk_reply_json(request, 200, json);
    else
        bk_reply_status(request, &err);
}
