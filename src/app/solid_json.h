/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A rebuilt bifurcation as branchkeep.solid/1. */
#ifndef BK_APP_SOLID_JSON_H
#define BK_APP_SOLID_JSON_H

#include "base/json.h"
#include "core/anatomy/space/solid.h"

void bk_solid_json_warn(bk_json *warnings, const char *code, const char *message);

/** The document; takes warnings over. measurement: the n documents it was made of, for what they say of themselves. */
bk_json *bk_solid_json(const bk_space_solid *solid, const bk_json *const *measurement, size_t n, bk_json *warnings);

#endif
