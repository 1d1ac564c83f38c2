/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "report/png_bytes.h"

#include <stdlib.h>
#include <string.h>

/* Room doubles: the capacity is the next power of two above what is held, so it need not be stored. */
static size_t room_for(size_t n)
{
    size_t room = 1024;
    while (room <= n)
        room *= 2;
    return room;
}

cairo_status_t bk_bytes_add(void *closure, const unsigned char *data, unsigned int n)
{
    bk_report_bytes *b = closure;
    if (b->n + n > BK_REPORT_BYTES_MAX)
        return CAIRO_STATUS_WRITE_ERROR;
    const size_t old = b->bytes ? room_for(b->n) : 0, wanted = room_for(b->n + n);
    if (wanted != old) {
        char *larger = realloc(b->bytes, wanted);
        if (!larger)
            return CAIRO_STATUS_NO_MEMORY;
        b->bytes = larger;
    }
    if (n > 0)
        memcpy(b->bytes + b->n, data, n);
    b->n += n;
    b->bytes[b->n] = '\0';
    return CAIRO_STATUS_SUCCESS;
}

bk_status bk_png_bytes(cairo_surface_t *surface, bk_report_bytes *out, bk_err *err)
{
    *out = (bk_report_bytes){0};
    cairo_surface_flush(surface);
    const cairo_status_t status = cairo_surface_write_to_png_stream(surface, bk_bytes_add, out);
    if (status == CAIRO_STATUS_SUCCESS)
        return BK_OK;
    free(out->bytes);
    *out = (bk_report_bytes){0};
    return bk_fail(err, BK_E_INTERNAL, "the picture could not be drawn: %s", cairo_status_to_string(status));
}

bk_status bk_bytes_add_base64(bk_report_bytes *out, const bk_report_bytes *in, bk_err *err)
{
    static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    for (size_t i = 0; i < in->n; i += 3) {
        const unsigned char *p = (const unsigned char *)in->bytes + i;
        const size_t left = in->n - i;
        const unsigned v = (unsigned)p[0] << 16 | (left > 1 ? (unsigned)p[1] << 8 : 0) | (left > 2 ? p[2] : 0u);
        const unsigned char quad[4] = {(unsigned char)digits[v >> 18], (unsigned char)digits[v >> 12 & 63],
                                       (unsigned char)(left > 1 ? digits[v >> 6 & 63] : '='),
                                       (unsigned char)(left > 2 ? digits[v & 63] : '=')};
        if (bk_bytes_add(out, quad, 4) != CAIRO_STATUS_SUCCESS)
            return bk_fail(err, BK_E_LIMIT, "the report needs more than %zu bytes", BK_REPORT_BYTES_MAX);
    }
    return BK_OK;
}
