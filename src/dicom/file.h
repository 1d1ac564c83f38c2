/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What an open file is, and the steps that fill it: read (what kind of file), describe (attributes), index (where
   each frame lies); then frame and modality answer from it. The data set itself is let go after describing. */
#ifndef BK_DICOM_FILE_H
#define BK_DICOM_FILE_H

#include <vector>

#include "dicom/dicom.h"
#include "dicom/toolkit.h"

class DcmItem;

namespace bk
{

/* How the pixels of one frame are stored. */
struct PixelForm {
    int32_t rows, cols;
    int32_t declared_frames;
    unsigned allocated_bits; /* 8 or 16 */
    unsigned stored_bits;    /* 8..allocated_bits */
    unsigned high_bit;       /* stored_bits-1..allocated_bits-1 */
    bool is_signed;

    size_t pixels() const
    {
        return static_cast<size_t>(rows) * static_cast<size_t>(cols);
    }
    uint64_t frame_bytes() const
    {
        return static_cast<uint64_t>(pixels()) * (allocated_bits / 8);
    }
};

struct Piece {
    uint64_t at;
    uint32_t length;
};

/* Where the frames lie: one behind the other from `native_at`, or in fragments; frame k (from 0) is made of
   fragments first[k] .. first[k+1]-1. */
struct FrameIndex {
    uint64_t native_at = 0;
    bool word_swapped = false; /* 8-bit pixels in big-endian words: each pair of bytes is exchanged */
    std::vector<Piece> fragments;
    std::vector<uint32_t> first;
};

/** Add a warning once; the first message of a code stays. */
void warn(bk_dicom_info *info, const char *code, const char *format, ...) BK_PRINTF(3, 4);

} // namespace bk

struct bk_dicom {
    bk::Source source;
    const bk::Syntax *syntax = nullptr;
    bk::PixelForm form = {};
    bk::FrameIndex index;
    bk_dicom_info info = {};
    std::vector<double> times_ms;
    std::vector<int32_t> r_waves;
    std::vector<float> modality; /* 2^stored_bits entries; empty: the identity */
    char sop_hash[65] = "", patient_hash[65] = "";
};

namespace bk
{

/** Fill the description from a parsed header. Errors: BK_E_DATA, BK_E_LIMIT as in bk_dicom_open. */
bk_status describe(DcmItem *dataset, bk_dicom *file, bk_err *err);
/** Parts of it, each in its own file. They only warn. */
void describe_geometry(DcmItem *dataset, bk_dicom *file);
void describe_times(DcmItem *dataset, bk_dicom *file); /* needs info.frames */
void describe_modality(DcmItem *dataset, bk_dicom *file);

/** Find the frames behind the pixel data element; sets info.frames to the whole ones. Errors: BK_E_DATA, BK_E_IO. */
bk_status index_frames(const Element &pixels, bk_dicom *file, bk_err *err);
/** Bytes of frame k (from 0), its fragments joined. */
bk_status read_frame_bytes(const bk_dicom *file, int32_t k, std::vector<uint8_t> *out, bk_err *err);

/** bk_dicom_frame. */
bk_status decode_frame(const bk_dicom *file, int32_t frame, uint16_t *out, size_t capacity, bk_err *err);

/* Decoders: from the bytes of one frame to rows x cols cells. They check that the stream's own size agrees with the
   data set's before anything is written. *precision is set to the bits of a cell that may be in use.
   Errors: BK_E_DATA. */
bk_status decode_rle(const std::vector<uint8_t> &bytes, const PixelForm &form, uint16_t *out, bk_err *err);
bk_status decode_jpeg(const std::vector<uint8_t> &bytes, const PixelForm &form, const Syntax &syntax, uint16_t *out,
                      unsigned *precision, bk_err *err);
bk_status decode_jpeg_2000(const std::vector<uint8_t> &bytes, const PixelForm &form, uint16_t *out,
                           unsigned *precision, bk_err *err);
const char *jpeg_2000_version();

} // namespace bk
#endif
