/* SPDX-License-Identifier: GPL-3.0-or-later */
/* RLE (PS3.5 annex G): a header of 16 words, then one PackBits segment for each byte of a cell, the high byte first.
   Our own rather than the toolkit's: that one trusts the offsets in the header, and fills up what a damaged segment
   lacks without a word. */
#include "dicom/file.h"

namespace bk
{

namespace
{

constexpr size_t header_bytes = 64;

/* One segment into every pixel's byte at `shift`; false when it ends early or runs over the pixels. Bytes left over
   when all pixels are there are filling. */
bool unpack_segment(const uint8_t *from, const uint8_t *end, size_t pixels, unsigned shift, uint16_t *out)
{
    size_t done = 0;
    while (done < pixels) {
        if (from >= end)
            return false;
        const uint8_t code = *from++;
        if (code == 128) /* no operation */
            continue;
        const bool run = code > 128;
        const size_t n = run ? 257u - code : code + 1u;
        const size_t taken = run ? 1 : n;
        if (n > pixels - done || taken > static_cast<size_t>(end - from))
            return false;
        for (size_t i = 0; i < n; i++) {
            const unsigned byte = from[run ? 0 : i];
            out[done + i] = static_cast<uint16_t>(out[done + i] | byte << shift);
        }
        from += taken;
        done += n;
    }
    return true;
}

} // namespace

bk_status decode_rle(const std::vector<uint8_t> &bytes, const PixelForm &form, uint16_t *out, bk_err *err)
{
    const unsigned wanted = form.allocated_bits / 8;
    const unsigned segments = bytes.size() >= header_bytes ? get_u32(bytes.data(), false) : 0;
    if (segments != wanted)
        return bk_fail(err, BK_E_DATA, "RLE data of %u segments were found, %u were expected", segments, wanted);
    const size_t pixels = form.pixels();
    for (size_t i = 0; i < pixels; i++)
        out[i] = 0;
    for (unsigned s = 0; s < segments; s++) {
        const uint32_t begin = get_u32(&bytes[4 + 4 * s], false);
        const uint32_t end = s + 1 < segments ? get_u32(&bytes[8 + 4 * s], false) : static_cast<uint32_t>(bytes.size());
        if (begin < header_bytes || begin > end || end > bytes.size())
            return bk_fail(err, BK_E_DATA, "an RLE segment from byte %u to %u of %zu was found", begin, end,
                           bytes.size());
        if (!unpack_segment(bytes.data() + begin, bytes.data() + end, pixels, 8 * (segments - 1 - s), out))
            return bk_fail(err, BK_E_DATA, "a damaged RLE segment was found, %zu pixels were expected", pixels);
    }
    return BK_OK;
}

} // namespace bk
