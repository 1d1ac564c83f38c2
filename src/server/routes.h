/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What can be asked, by where it is worked on. Each is thin: read the request, call the use case, reply. */
#ifndef BK_SERVER_ROUTES_H
#define BK_SERVER_ROUTES_H

#include "server/request.h"

/* routes_page.c */
void bk_route_asset(bk_request *request);
void bk_route_session(bk_request *request);
void bk_route_events(bk_request *request);
void bk_route_about(bk_request *request);
void bk_route_fields(bk_request *request);
/* routes_cines.c */
void bk_route_cines(bk_request *request);
void bk_route_put_cine(bk_request *request);
void bk_route_cine(bk_request *request);
void bk_route_frame(bk_request *request);
void bk_route_pick(bk_request *request);
void bk_route_measure(bk_request *request);
/* routes_cases.c */
void bk_route_cases(bk_request *request);
void bk_route_case(bk_request *request);
void bk_route_save(bk_request *request);
void bk_route_ask_kept(bk_request *request);
void bk_route_ask(bk_request *request);
void bk_route_space(bk_request *request);
/* routes_log.c */
void bk_route_log(bk_request *request);

#endif
