/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Use case: the same measurement on neighbouring frames, and its mean. */
#ifndef BK_APP_REPEAT_H
#define BK_APP_REPEAT_H

#include "app/measure.h"

#define BK_REPEAT_MIN 3
#define BK_REPEAT_MAX 9

/**
 * Can a measurement with these corrections be repeated on other frames? To be asked before anything is written.
 * Errors: BK_E_USAGE an edge is drawn; those of reading the corrections.
 */
bk_status bk_app_repeat_allowed(const bk_measure_options *options, bk_err *err) BK_MUST_CHECK;

/**
 * Repeat a measurement on the n frames around its own (n odd, BK_REPEAT_MIN..BK_REPEAT_MAX; at the end of the run the
 * window is moved inwards) and add `repeats` and `repeat_mean` to its answer. The clicks and way-points are carried from frame
 * to frame (bk_follow_points); the scale is that of the answer, what is said in mm and the swap stay. The course of the limbs goes with them (app/repeat_course.h): a limb
 * that cannot be told in a frame has no values there, and a reason. A frame in which the vessel is lost, or that cannot be
 * measured, is a row with its reason. The rest of the answer stays as it is.
 * Errors: those of reading the file and the corrections, and of bk_app_repeat_allowed.
 */
bk_status bk_app_repeat(const bk_measure_options *options, int n, bk_json *answer, bk_err *err) BK_MUST_CHECK;

#endif
