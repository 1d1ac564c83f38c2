/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BK_CORE_ANATOMY_PATH_LENGTH_H
#define BK_CORE_ANATOMY_PATH_LENGTH_H

#include <stddef.h>

/** Arc length along n points (xyz: n x 3, row-major) into out (n), out[0] = 0. Any unit. */
void bk_path_length(const double *xyz, size_t n, double *out);

#endif
