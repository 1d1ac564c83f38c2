/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BK_CLI_MEASURE_BATCH_H
#define BK_CLI_MEASURE_BATCH_H

#include <stdbool.h>

#include "base/status.h"

/** Do these words ask for a batch? */
bool bk_cli_is_batch(int argc, char **argv);
/** measure --batch LIST.csv ... */
bk_status bk_cli_measure_batch(int argc, char **argv, bk_err *err) BK_MUST_CHECK;

#endif
