/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <string.h>

#include "app/log.h"
#include "server/routes.h"

/* {"document": branchkeep.case/1, "action": "show"|"add"|"next", "entry": {...}, "at": ISO 8601}: the log as it stands, and after
   an event also the entries to put into the document, which the page then saves. */
void bk_route_log(bk_request *request)
{
    bk_json *body = bk_request_json(request), *view = NULL;
    bk_err err = {0};
    if (!body)
        return;
    bk_json *doc = bk_json_get(body, "document");
    const bk_json *entry = bk_json_get(body, "entry");
    const char *action = bk_json_text(bk_json_get(body, "action")), *at = bk_json_text(bk_json_get(body, "at"));
    const bool adds = strcmp(action, "add") == 0, shows = strcmp(action, "show") == 0;
    if (!bk_json_is_object(doc) || (!adds && !shows && strcmp(action, "next") != 0) || (!shows && !bk_json_is_object(entry)) || !*at) {
        bk_reply_error(request, 400, "a document (an object), an action (show, add or next), with these two an entry (an object), and at (a time) were expected");
        bk_json_free(body);
        return;
    }
    bk_status status = adds ? bk_app_log_append(doc, entry, at, &err) : BK_OK;
    if (status == BK_OK)
        status = adds || shows ? bk_app_log_show(doc, at, &view, &err) : bk_app_log_next(doc, entry, at, &view, &err);
    if (status == BK_OK && adds)
        bk_json_put(view, "log", bk_json_copy(bk_json_get(doc, "log")));
    if (status == BK_OK)
        bk_reply_json(request, 200, view);
    else
        bk_reply_status(request, &err);
    bk_json_free(body);
}
