/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A walk over the data elements of a file, without taking in their values, up to the pixel data.

   Why not leave it to the toolkit: it descends into nested sequences by recursion without a bound, so that a small
   hostile file overflows the stack; it says nothing of where pixel data begin; and it takes a cut file for a short
   one. The walk checks the structure first, with a bound on depth and on count, and the toolkit then parses exactly
   the checked bytes. */
#ifndef BK_DICOM_WALK_H
#define BK_DICOM_WALK_H

#include "dicom/source.h"

namespace bk
{

constexpr unsigned header_depth_max = 32;               /* sequences within sequences */
constexpr uint64_t header_bytes_max = 64 * 1024 * 1024; /* everything before the pixel data */
constexpr uint32_t header_elements_max = 2000000;
constexpr uint32_t item_elements_max = 20000; /* of one item: the toolkit sorts them one by one */
constexpr uint32_t undefined_length = 0xffffffffu;

struct Encoding {
    bool explicit_vr, big_endian;
};

struct Element {
    uint16_t group, element;
    char vr[3]; /* "" in implicit VR and for item tags */
    uint64_t header_at, value_at;
    uint32_t length; /* may be undefined_length */
    bool is(uint16_t g, uint16_t e) const
    {
        return group == g && element == e;
    }
};

/** The element header at byte `at`. Errors: BK_E_DATA the file ends within it; BK_E_IO. */
bk_status read_element(const Source &source, Encoding encoding, uint64_t at, Element *out, bk_err *err);

/**
 * Walk from byte `begin` to the pixel data (7FE0,0010) of the data set itself, not of an icon within it.
 * Errors: BK_E_DATA no pixel data, cut, or a damaged structure; BK_E_LIMIT one of the caps above; BK_E_IO.
 */
bk_status walk_to_pixels(const Source &source, Encoding encoding, uint64_t begin, Element *pixels, bk_err *err);

} // namespace bk
#endif
