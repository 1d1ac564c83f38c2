/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Puts DICOM files together byte by byte, right ones and wrong ones, without the code under test. Explicit VR little
   endian unless said otherwise; encodings from PS3.5 chapter 7 and annex A. */
#ifndef BK_TESTS_DICOM_BUILD_H
#define BK_TESTS_DICOM_BUILD_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct builder {
    uint8_t *bytes;
    size_t n, room;
    bool implicit;
} builder;

static inline void put_bytes(builder *b, const void *bytes, size_t n)
{
    if (b->room - b->n < n) {
        b->room = 2 * b->room + n + 1024;
        b->bytes = realloc(b->bytes, b->room);
        if (!b->bytes)
            abort();
    }
    if (n > 0)
        memcpy(b->bytes + b->n, bytes, n);
    b->n += n;
}
static inline void put_u16(builder *b, unsigned value)
{
    const uint8_t raw[2] = {(uint8_t)(value & 0xff), (uint8_t)(value >> 8 & 0xff)};
    put_bytes(b, raw, 2);
}
static inline void put_u32(builder *b, uint32_t value)
{
    put_u16(b, value & 0xffff);
    put_u16(b, value >> 16);
}
/* Tag, type and length; the value is for the caller to put. */
static inline void put_head(builder *b, uint32_t tag, const char *vr, uint32_t length)
{
    put_u16(b, tag >> 16);
    put_u16(b, tag & 0xffff);
    if (b->implicit) {
        put_u32(b, length);
        return;
    }
    put_bytes(b, vr, 2);
    if (strstr("OB OW SQ UN UT OF", vr)) {
        put_u16(b, 0);
        put_u32(b, length);
    } else {
        put_u16(b, length);
    }
}
static inline void put_text(builder *b, uint32_t tag, const char *vr, const char *text)
{
    const size_t n = strlen(text), even = n + n % 2;
    put_head(b, tag, vr, (uint32_t)even);
    put_bytes(b, text, n);
    if (even > n)
        put_bytes(b, strcmp(vr, "UI") == 0 ? "\0" : " ", 1);
}
static inline void put_us(builder *b, uint32_t tag, unsigned value)
{
    put_head(b, tag, "US", 2);
    put_u16(b, value);
}
/* An item or a delimiter: FFFE,E000, E00D or E0DD. */
static inline void put_item(builder *b, unsigned element, uint32_t length)
{
    put_u16(b, 0xfffe);
    put_u16(b, element);
    put_u32(b, length);
}
#define OPEN_ENDED 0xffffffffu
static inline void open_sequence(builder *b, uint32_t tag)
{
    put_head(b, tag, "SQ", OPEN_ENDED);
    put_item(b, 0xe000, OPEN_ENDED);
}
static inline void close_sequence(builder *b)
{
    put_item(b, 0xe00d, 0);
    put_item(b, 0xe0dd, 0);
}
/* Preamble, mark and meta information. */
static inline void begin_file(builder *b, const char *syntax)
{
    const bool implicit = b->implicit;
    const uint8_t preamble[128] = {0};
    b->n = 0;
    b->implicit = false;
    put_bytes(b, preamble, sizeof preamble);
    put_bytes(b, "DICM", 4);
    put_text(b, 0x00020010, "UI", syntax);
    b->implicit = implicit;
}

/* The attributes of an image; tags below 0028 are to be put before, others after. */
typedef struct image_form {
    unsigned rows, cols, allocated, stored, high, is_signed;
    const char *frames, *photometric;
} image_form;
static inline void put_image(builder *b, image_form form)
{
    put_us(b, 0x00280002, 1);
    put_text(b, 0x00280004, "CS", form.photometric ? form.photometric : "MONOCHROME2");
    if (form.frames)
        put_text(b, 0x00280008, "IS", form.frames);
    put_us(b, 0x00280010, form.rows);
    put_us(b, 0x00280011, form.cols);
    put_us(b, 0x00280100, form.allocated);
    put_us(b, 0x00280101, form.stored);
    put_us(b, 0x00280102, form.high);
    put_us(b, 0x00280103, form.is_signed);
}
static inline void put_native(builder *b, const char *vr, const void *bytes, size_t n)
{
    put_head(b, 0x7fe00010, vr, (uint32_t)n);
    put_bytes(b, bytes, n);
}
/* The head of compressed pixel data with its offset table. */
static inline void begin_fragments(builder *b, const uint32_t *offsets, size_t n)
{
    put_head(b, 0x7fe00010, "OB", OPEN_ENDED);
    put_item(b, 0xe000, (uint32_t)(4 * n));
    for (size_t i = 0; i < n; i++)
        put_u32(b, offsets[i]);
}
static inline void put_fragment(builder *b, const void *bytes, size_t n)
{
    put_item(b, 0xe000, (uint32_t)n);
    put_bytes(b, bytes, n);
}

static inline void save_bytes(const char *path, const void *bytes, size_t n)
{
    FILE *file = fopen(path, "wb");
    if (!file || fwrite(bytes, 1, n, file) != n || fclose(file) != 0)
        abort();
}

#define SYNTAX_IMPLICIT "1.2.840.10008.1.2"
#define SYNTAX_EXPLICIT "1.2.840.10008.1.2.1"
#define SYNTAX_BIG "1.2.840.10008.1.2.2"
#define SYNTAX_RLE "1.2.840.10008.1.2.5"
#define SYNTAX_JPEG "1.2.840.10008.1.2.4.50"
#define SYNTAX_MPEG2 "1.2.840.10008.1.2.4.100"

#endif
