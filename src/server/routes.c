/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "server/routes.h"

const bk_route bk_routes[] = {
    /* method, pattern, body, lane, without cookie, newest only, run */
    {"GET", "/", BK_BODY_NONE, BK_HERE, true, false, bk_route_asset},
    {"GET", "/*", BK_BODY_NONE, BK_HERE, true, false, bk_route_asset},
    {"GET", "/js/*", BK_BODY_NONE, BK_HERE, true, false, bk_route_asset},
    {"POST", "/session", BK_BODY_JSON, BK_HERE, true, false, bk_route_session},
    {"GET", "/api/events", BK_BODY_NONE, BK_HERE, false, false, bk_route_events},
    {"GET", "/api/about", BK_BODY_NONE, BK_HERE, false, false, bk_route_about},
    {"GET", "/api/fields/*", BK_BODY_NONE, BK_HERE, false, false, bk_route_fields},
    {"GET", "/api/cines", BK_BODY_NONE, BK_KEEPING, false, false, bk_route_cines},
    {"POST", "/api/cines", BK_BODY_FILE, BK_KEEPING, false, false, bk_route_put_cine},
    {"GET", "/api/cines/*", BK_BODY_NONE, BK_PICTURES, false, false, bk_route_cine},
    {"GET", "/api/cines/*/frames/*", BK_BODY_NONE, BK_PICTURES, false, false, bk_route_frame},
    {"GET", "/api/cines/*/pick", BK_BODY_NONE, BK_MEASURING, false, true, bk_route_pick},
    {"POST", "/api/measure", BK_BODY_JSON, BK_MEASURING, false, true, bk_route_measure},
    {"GET", "/api/cases", BK_BODY_NONE, BK_KEEPING, false, false, bk_route_cases},
    {"POST", "/api/cases", BK_BODY_JSON, BK_KEEPING, false, false, bk_route_save},
    {"GET", "/api/cases/*", BK_BODY_NONE, BK_KEEPING, false, false, bk_route_case},
    {"GET", "/api/ask/*", BK_BODY_NONE, BK_MEASURING, false, false, bk_route_ask_kept},
    {"POST", "/api/ask/*", BK_BODY_JSON, BK_MEASURING, false, false, bk_route_ask},
    {"POST", "/api/log", BK_BODY_JSON, BK_MEASURING, false, false, bk_route_log},
    {"POST", "/api/space", BK_BODY_JSON, BK_MEASURING, false, true, bk_route_space},
};
const size_t bk_routes_n = sizeof bk_routes / sizeof bk_routes[0];
