/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Use cases: each joins rooms into one thing a user asks for. JSON in, JSON out; no arithmetic here. */
#ifndef BK_APP_APP_H
#define BK_APP_APP_H

/** The caution that every output carries. */
extern const char bk_caution[];
/** "branchkeep 0.1.0": goes into every document as "engine". */
extern const char bk_engine[];

/** The time as "2026-11-25T14:05:00Z". */
void bk_app_now(char out[32]);

#endif
