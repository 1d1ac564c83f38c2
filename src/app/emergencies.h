/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Short cards for what goes wrong: the evidence rows whose topic begins with "emergency_". A topic is a card,
   its rows are the lines in the order of their value; a lab changes a line by a row of its own.
   docs/methods/result.md */
#ifndef BK_APP_EMERGENCIES_H
#define BK_APP_EMERGENCIES_H

#include "base/json.h"

/** [{id, name, lines[{n, text, standing, source, row}]}], cards in the order of the tables; n counts from 1.
 */
bk_json *bk_emergencies(void);

#endif
