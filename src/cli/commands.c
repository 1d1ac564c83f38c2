/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The order here is the order in the help. */
#include "cli/cli.h"

extern const bk_command bk_cmd_frames;
extern const bk_command bk_cmd_log;
extern const bk_command bk_cmd_frame;
extern const bk_command bk_cmd_pick;
extern const bk_command bk_cmd_count;
extern const bk_command bk_cmd_measure;
extern const bk_command bk_cmd_rebuild;
extern const bk_command bk_cmd_views;
extern const bk_command bk_cmd_case;
extern const bk_command bk_cmd_cases;
extern const bk_command bk_cmd_ask;
extern const bk_command bk_cmd_fields;
extern const bk_command bk_cmd_evidence;
extern const bk_command bk_cmd_shelf;
extern const bk_command bk_cmd_report;
extern const bk_command bk_cmd_phantom;
extern const bk_command bk_cmd_serve;
extern const bk_command bk_cmd_demo;
extern const bk_command bk_cmd_selftest;
extern const bk_command bk_cmd_version;

const bk_command *const bk_commands[] = {
    &bk_cmd_frames,
    &bk_cmd_log,
    &bk_cmd_frame,
    &bk_cmd_pick,
    &bk_cmd_count,
    &bk_cmd_measure,
    &bk_cmd_rebuild,
    &bk_cmd_views,
    &bk_cmd_case,
    &bk_cmd_cases,
    &bk_cmd_ask,
    &bk_cmd_fields,
    &bk_cmd_evidence,
    &bk_cmd_shelf,
    &bk_cmd_report,
    &bk_cmd_phantom,
    &bk_cmd_serve,
    &bk_cmd_demo,
    &bk_cmd_selftest,
    &bk_cmd_version,
};
const unsigned bk_commands_n = sizeof bk_commands / sizeof bk_commands[0];
