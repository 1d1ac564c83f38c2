/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One frame on demand: its bytes, through its decoder, to stored values. */
#include "dicom/file.h"

#include <cstdio>
#include <cstring>

namespace bk
{

namespace
{

void unpack_native(const std::vector<uint8_t> &bytes, const bk_dicom *file, uint16_t *out)
{
    const size_t n = file->form.pixels();
    if (file->form.allocated_bits == 8) {
        for (size_t i = 0; i < n; i++)
            out[i] = bytes[i];
        return;
    }
    for (size_t i = 0; i < n; i++)
        out[i] = get_u16(&bytes[2 * i], file->syntax->encoding.big_endian);
}

/* What overlays and filling may have put around the stored bits goes away: shift down, mask, lift signed values.
   A lossy coder with more bits than are stored can overshoot; its values are held at the largest, for masking would
   turn the brightest pixels black. */
void settle_bits(const PixelForm &form, unsigned precision, bool hold, uint16_t *px)
{
    const unsigned low_bit = form.high_bit + 1 - form.stored_bits;
    const unsigned shift = form.high_bit < precision ? low_bit : 0;
    const unsigned mask = (1u << form.stored_bits) - 1;
    const unsigned lift = form.is_signed ? 1u << (form.stored_bits - 1) : 0;
    const bool holds = hold && !form.is_signed && shift == 0;
    if (shift == 0 && lift == 0 && !holds && form.stored_bits == 16)
        return;
    const size_t n = form.pixels();
    for (size_t i = 0; i < n; i++) {
        const unsigned value = static_cast<unsigned>(px[i]) >> shift;
        const unsigned kept = holds && value > mask ? mask : value & mask;
        px[i] = static_cast<uint16_t>(kept ^ lift); /* two's complement to offset binary */
    }
}

bk_status decode(const std::vector<uint8_t> &bytes, const bk_dicom *file, uint16_t *out, bk_err *err)
{
    const PixelForm &form = file->form;
    unsigned precision = form.allocated_bits;
    bk_status status = BK_OK;
    switch (file->syntax->codec) {
    case Codec::native:
        unpack_native(bytes, file, out);
        break;
    case Codec::rle:
        status = decode_rle(bytes, form, out, err);
        break;
    case Codec::jpeg:
    case Codec::jpeg_ls:
        status = decode_jpeg(bytes, form, *file->syntax, out, &precision, err);
        break;
    case Codec::jpeg_2000:
        status = decode_jpeg_2000(bytes, form, out, &precision, err);
        break;
    }
    if (status == BK_OK)
        settle_bits(form, precision, file->syntax->may_be_lossy, out);
    return status;
}

} // namespace

bk_status decode_frame(const bk_dicom *file, int32_t frame, uint16_t *out, size_t capacity, bk_err *err)
{
    if (frame < 1 || frame > file->info.frames)
        return bk_fail(err, BK_E_USAGE, "frame %d was asked for, 1 to %d were expected", frame, file->info.frames);
    const size_t n = file->form.pixels();
    if (capacity < n)
        return bk_fail(err, BK_E_USAGE, "room for %zu pixels was given, %zu were expected", capacity, n);
    std::vector<uint8_t> bytes;
    bk_status status = read_frame_bytes(file, frame - 1, &bytes, err);
    if (status == BK_OK)
        status = decode(bytes, file, out, err);
    if (status == BK_OK)
        return BK_OK;
    memset(out, 0, n * sizeof *out);
    char where[32];
    snprintf(where, sizeof where, "frame %d", frame);
    bk_fail_in(err, where);
    return status;
}

} // namespace bk
