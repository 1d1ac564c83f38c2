/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a stock list: read or refused in one line; what is read is asked for a pressure and a choice. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "core/plan/shelf.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    bk_arena arena;
    bk_stock stock;
    bk_err err = {0};
    char *text = n < BK_STOCK_BYTES_MAX ? malloc(n + 1) : NULL;
    if (!text)
        return 0;
    memcpy(text, bytes, n);
    bk_arena_init(&arena, (size_t)64 * 1024 * 1024);
    if (bk_stock_read(text, n, &arena, &stock, &err) != BK_OK) {
        if (!err.message[0] || strchr(err.message, '\n'))
            abort();
    } else {
        bk_stock_match match[BK_STOCK_MATCHES];
        const bk_stock_wish wish = {BK_STOCK_STENT, BK_CLASS_NONE, 3, 18, (double)NAN, 3.75, (double)NAN};
        bk_stock_find(&stock, &wish, bk_evidence_builtin(), match);
        for (size_t i = 0; i < stock.n; i++)
            if (bk_stock_pressure(&stock.items[i], 3.1).atm > stock.items[i].rated_atm)
                abort();
    }
    bk_arena_clear(&arena);
    free(text);
    return 0;
}
