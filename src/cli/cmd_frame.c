/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/frames.h"
#include "cli/cli.h"

static bk_status run(int argc, char **argv, bk_err *err)
{
    const char *frame_text = NULL, *png = NULL, *window_text = NULL;
    const bk_option options[] = {{"frame", 1, &frame_text, 0, NULL},
                                 {"png", 1, &png, 0, NULL},
                                 {"window", 1, &window_text, 0, NULL},
                                 {0}};
    const char *path[1];
    int n;
    bk_status status = bk_options_read(argc, argv, options, path, 1, &n, err);
    if (status != BK_OK)
        return status;
    if (n != 1 || !frame_text || !png)
        return bk_fail(err, BK_E_USAGE, "a file, --frame K and --png OUT.png were expected");
    long frame;
    status = bk_option_integer("frame", frame_text, 1, INT32_MAX, &frame, err);
    double window[2] = {0, 0};
    if (status == BK_OK && window_text)
        status = bk_option_numbers("window", window_text, 2, window, err);
    if (status != BK_OK)
        return status;
    const bk_window asked = {window[0], window[1]};
    return bk_frames_picture(path[0], (int32_t)frame, window_text ? &asked : NULL, png, err);
}

const bk_command bk_cmd_frame = {"frame", "FILE.dcm --frame K --png OUT.png [--window C,W]",
                                 "write one frame as a PNG: 16-bit stored values, or 8-bit with a window", run};
