/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The order here is the order in the help. */
#include "cli/cli.h"

extern const bk_command bk_cmd_frames;
extern const bk_command bk_cmd_frame;
extern const bk_command bk_cmd_measure;
extern const bk_command bk_cmd_phantom;
extern const bk_command bk_cmd_version;

const bk_command *const bk_commands[] = {
    &bk_cmd_frames,
    &bk_cmd_frame,
    &bk_cmd_measure,
    &bk_cmd_phantom,
    &bk_cmd_version,
};
const unsigned bk_commands_n = sizeof bk_commands / sizeof bk_commands[0];
