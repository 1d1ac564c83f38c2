/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A C-arm position in the words of the room. */
#ifndef BK_CORE_ANATOMY_SPACE_POSITION_H
#define BK_CORE_ANATOMY_SPACE_POSITION_H

#define BK_POSITION_WORDS 40

/** "LAO 30, cranial 10", "AP" for 0 and 0; whole degrees. */
char *bk_position_words(char out[BK_POSITION_WORDS], double primary_deg, double secondary_deg);

#endif
