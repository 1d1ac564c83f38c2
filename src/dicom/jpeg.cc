/* SPDX-License-Identifier: GPL-3.0-or-later */
/* JPEG (baseline, extended, lossless) and JPEG-LS through the toolkit's decoders. Each frame is handed over as a
   data set of its own with one fragment, so that offset tables and fragments, already sorted out by the index, cannot
   confuse them; and its start-of-frame marker is read first, so that they never meet sizes other than those the
   buffer was made for. */
#include "dicom/file.h"

#include <cstring>

#include "dcmtk/dcmdata/dccodec.h"
#include "dcmtk/dcmdata/dcdeftag.h"
#include "dcmtk/dcmdata/dcitem.h"
#include "dcmtk/dcmdata/dcpixseq.h"
#include "dcmtk/dcmdata/dcpxitem.h"

namespace bk
{

namespace
{

struct StreamForm {
    unsigned precision, rows, cols, components;
};

bool is_start_of_frame(uint8_t marker)
{
    /* C0..CF but for DHT, JPG and DAC; F7 is that of JPEG-LS (ITU-T T.81 table B.1, T.87) */
    return (marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc) || marker == 0xf7;
}

/* Walk over the marker segments to the first start of frame. */
bool read_stream_form(const std::vector<uint8_t> &bytes, StreamForm *form)
{
    if (bytes.size() < 4 || bytes[0] != 0xff || bytes[1] != 0xd8)
        return false;
    size_t at = 2;
    while (at + 4 <= bytes.size()) {
        if (bytes[at] != 0xff)
            return false;
        const uint8_t marker = bytes[at + 1];
        if (marker == 0xff) { /* filling before a marker */
            at++;
            continue;
        }
        const size_t length = get_u16(&bytes[at + 2], true);
        if (is_start_of_frame(marker)) {
            if (length < 8 || at + 10 > bytes.size())
                return false;
            *form = {bytes[at + 4], get_u16(&bytes[at + 5], true), get_u16(&bytes[at + 7], true), bytes[at + 9]};
            return true;
        }
        if (length < 2)
            return false;
        at += 2 + length;
    }
    return false;
}

bk_status check_stream(const std::vector<uint8_t> &bytes, const PixelForm &form, unsigned *precision, bk_err *err)
{
    StreamForm stream;
    if (!read_stream_form(bytes, &stream))
        return bk_fail(err, BK_E_DATA, "%zu bytes without a JPEG start of frame were found", bytes.size());
    if (stream.rows != static_cast<unsigned>(form.rows) || stream.cols != static_cast<unsigned>(form.cols) ||
        stream.components != 1)
        return bk_fail(err, BK_E_DATA,
                       "a JPEG of %u rows, %u columns and %u components was found, %d, %d and 1 were expected",
                       stream.rows, stream.cols, stream.components, form.rows, form.cols);
    if (stream.precision < 2 || stream.precision > form.allocated_bits)
        return bk_fail(err, BK_E_DATA, "a JPEG of %u bits was found, at most %u were expected", stream.precision,
                       form.allocated_bits);
    *precision = stream.precision;
    return BK_OK;
}

/* The attributes the decoders look at, as the stream itself has them. */
bool fill_item(DcmItem *item, const PixelForm &form, unsigned precision)
{
    const Uint16 bits = precision > 8 ? 16 : 8, stored = static_cast<Uint16>(precision);
    const bool numbers = item->putAndInsertUint16(DCM_SamplesPerPixel, 1).good() &&
                         item->putAndInsertUint16(DCM_Rows, static_cast<Uint16>(form.rows)).good() &&
                         item->putAndInsertUint16(DCM_Columns, static_cast<Uint16>(form.cols)).good() &&
                         item->putAndInsertUint16(DCM_BitsAllocated, bits).good() &&
                         item->putAndInsertUint16(DCM_BitsStored, stored).good() &&
                         item->putAndInsertUint16(DCM_HighBit, static_cast<Uint16>(stored - 1)).good() &&
                         item->putAndInsertUint16(DCM_PixelRepresentation, 0).good();
    return numbers && item->putAndInsertString(DCM_PhotometricInterpretation, "MONOCHROME2").good();
}

/* An empty offset table and the frame; takes a copy, for the toolkit wants an even number of bytes. */
bool fill_sequence(DcmPixelSequence *sequence, const std::vector<uint8_t> &bytes)
{
    DcmPixelItem *table = new DcmPixelItem(DcmTag(DCM_Item, EVR_OB));
    if (sequence->insert(table).bad()) {
        delete table;
        return false;
    }
    DcmPixelItem *fragment = new DcmPixelItem(DcmTag(DCM_Item, EVR_OB));
    if (sequence->insert(fragment).bad()) {
        delete fragment;
        return false;
    }
    Uint8 *room = nullptr;
    const Uint32 even = static_cast<Uint32>(bytes.size() + bytes.size() % 2);
    if (fragment->createUint8Array(even, room).bad() || !room)
        return false;
    room[even - 1] = 0;
    memcpy(room, bytes.data(), bytes.size());
    return true;
}

void widen(const PixelForm &form, unsigned precision, const std::vector<uint16_t> &cells, uint16_t *out)
{
    const size_t n = form.pixels();
    if (precision > 8) {
        memcpy(out, cells.data(), n * sizeof *out);
        return;
    }
    const uint8_t *narrow = reinterpret_cast<const uint8_t *>(cells.data());
    for (size_t i = 0; i < n; i++)
        out[i] = narrow[i];
}

} // namespace

bk_status decode_jpeg(const std::vector<uint8_t> &bytes, const PixelForm &form, const Syntax &syntax, uint16_t *out,
                      unsigned *precision, bk_err *err)
{
    const bk_status status = check_stream(bytes, form, precision, err);
    if (status != BK_OK)
        return status;
    DcmItem item;
    DcmPixelSequence sequence(DcmTag(DCM_PixelData, EVR_OB));
    if (!fill_item(&item, form, *precision) || !fill_sequence(&sequence, bytes))
        return bk_fail(err, BK_E_INTERNAL, "out of memory for a frame");
    /* 16-bit cells also for 8-bit streams: the toolkit may write one byte beyond an odd frame */
    std::vector<uint16_t> cells(form.pixels() + 1);
    OFString colour_model;
    Uint32 first_fragment = 1;
    const Uint32 room = static_cast<Uint32>(form.pixels() * (*precision > 8 ? 2 : 1));
    const DamageWatch watch;
    const OFCondition result = DcmCodecList::decodeFrame(DcmXfer(syntax.toolkit), nullptr, &sequence, &item, 0,
                                                         first_fragment, cells.data(), room, colour_model);
    if (result.bad())
        return bk_fail(err, BK_E_DATA, "an undecodable JPEG was found: %s", result.text());
    if (watch.damaged())
        return bk_fail(err, BK_E_DATA, "a damaged JPEG was found");
    widen(form, *precision, cells, out);
    return BK_OK;
}

} // namespace bk
