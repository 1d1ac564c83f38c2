/* SPDX-License-Identifier: GPL-3.0-or-later */
/* DICOM files behind one narrow door: open, describe, decode frame K into the caller's buffer; and write one.
   No pointer into the toolkit comes out, so the reader can later run in a confined process of its own.
   Absent attributes are NaN (reals), 0 length (texts) or false; never a guessed value.

   Threads: the first call to bk_dicom_open or bk_dicom_write sets the toolkit up and must not run beside another;
   after it, different handles may be used from different threads, one handle from one thread at a time. */
#ifndef BK_DICOM_DICOM_H
#define BK_DICOM_DICOM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct bk_dicom bk_dicom;

/* Relation of stored values to X-ray intensity (PS3.3 C.8.7.1.1.3: LIN, LOG, DISP). */
typedef enum bk_intensity { BK_INTENSITY_ABSENT = 0, BK_INTENSITY_LINEAR, BK_INTENSITY_LOG, BK_INTENSITY_DISPLAY } bk_intensity;

#define BK_DICOM_WARNINGS_MAX 16
typedef struct bk_dicom_warning {
    char code[32]; /* e.g. "truncated", "odd_fragment", "date_spelling" */
    char message[160];
} bk_dicom_warning;

typedef struct bk_dicom_info {
    char modality[17], sop_class[65], transfer_syntax[65];
    int32_t rows, cols;
    int32_t frames;       /* whole frames that can be decoded */
    int32_t bits_stored;  /* 8..16 */
    bool is_signed;       /* stored values are two's complement; bk_dicom_frame adds 2^(bits_stored-1) */
    bool monochrome1;     /* high value = dark */
    bk_intensity intensity;
    int intensity_sign;   /* +1: higher value = more X-ray intensity; -1; 0 absent */
    bool has_modality_lut; /* LUT sequence, or a rescale that is not 1, 0 */
    double frame_time_ms; /* nominal; NaN when absent or only a vector is given */
    double primary_deg, secondary_deg;
    double sid_mm, sod_mm;
    double imager_spacing_mm[2]; /* row, column spacing at the receptor */
    double pixel_spacing_mm[2];  /* (0028,0030), as written; NaN when absent */
    double lossy_ratio;          /* NaN when absent */
    bool lossy;                  /* the file says it has been through lossy compression */
    char acquired_at[32];        /* ISO "YYYY-MM-DDThh:mm:ss" from acquisition (else content) date and time; "" */
    bool shutter;                /* a rectangular shutter is given, in pixels counted from 0, inclusive */
    int32_t shutter_left, shutter_right, shutter_top, shutter_bottom;
    size_t frame_times_n;        /* entries of bk_dicom_frame_times */
    size_t r_waves_n;            /* entries of bk_dicom_r_waves */
    size_t warnings_n;
    bk_dicom_warning warnings[BK_DICOM_WARNINGS_MAX];
} bk_dicom_info;

/* Caps, all stated in the error when met. */
#define BK_DICOM_SIDE_MAX 8192                             /* rows, columns */
#define BK_DICOM_FRAMES_MAX 100000
#define BK_DICOM_INFLATED_MAX ((uint64_t)1 << 30)          /* bytes a deflated data set may grow to */

/**
 * Open a DICOM file and read its description. Pixel data are not loaded.
 *
 * Accepts X-ray angiographic, enhanced XA, X-ray RF and secondary capture objects (any object with grey-scale
 * pixels of 8..16 stored bits). What is odd but usable is a warning; what is not is an error.
 * Errors: BK_E_IO unreadable file; BK_E_DATA not DICOM, no pixels, zero frames, colour, dimensions outside
 *         1..BK_DICOM_SIDE_MAX, unsupported transfer syntax, cut in the header or the first frame;
 *         BK_E_LIMIT a deflated data set over BK_DICOM_INFLATED_MAX.
 */
bk_status bk_dicom_open(const char *path, bk_dicom **out, bk_err *err) BK_MUST_CHECK;
void bk_dicom_close(bk_dicom *file); /* NULL is fine */

/** Copy the description. */
void bk_dicom_describe(const bk_dicom *file, bk_dicom_info *out);
/** Copy at most n frame times [ms from the first frame], one a frame; returns how many were copied. */
size_t bk_dicom_frame_times(const bk_dicom *file, double *out, size_t n);
/** Copy at most n R-wave frame numbers (counted from 1); returns how many were copied. */
size_t bk_dicom_r_waves(const bk_dicom *file, int32_t *out, size_t n);
/** SHA-256 (64 hex digits) of the SOP instance UID / of patient id, name and birth date; "" when absent. */
void bk_dicom_hashes(const bk_dicom *file, char sop_uid[65], char patient[65]);

/**
 * Decode one frame into the caller's buffer: rows x cols stored values, row-major, top-left first.
 *
 * Values are masked to bits_stored; signed ones are shifted by 2^(bits_stored-1) so that they fit uint16.
 * Only this frame is decoded: memory is one frame plus a constant, whatever the number of frames.
 * frame counts from 1. capacity is in pixels and must be >= rows*cols.
 * Errors: BK_E_USAGE frame out of range; BK_E_DATA undecodable frame (message names it).
 */
bk_status bk_dicom_frame(bk_dicom *file, int32_t frame, uint16_t *out, size_t capacity, bk_err *err) BK_MUST_CHECK;

/**
 * Modality value of every stored value (modality LUT or rescale; the identity when the file has none):
 * out[v] for v in 0..2^bits_stored - 1. n must be at least 2^bits_stored.
 */
bk_status bk_dicom_modality_values(const bk_dicom *file, float *out, size_t n, bk_err *err) BK_MUST_CHECK;

/* ---- writing (phantoms, tests) ---- */

typedef struct bk_dicom_out {
    int32_t rows, cols, frames, bits_stored; /* 8 bits allocated when bits_stored <= 8, else 16 */
    bk_intensity intensity;
    double frame_time_ms;                    /* NaN: left out, as for every real below */
    double primary_deg, secondary_deg, sid_mm, sod_mm;
    double imager_spacing_mm[2];
    double jpeg_ratio;    /* NaN: uncompressed explicit little endian; else JPEG baseline (8 bit) at about this ratio */
    const int32_t *r_waves;
    size_t r_waves_n;
    const float *modality_lut; /* for LOG: linear intensity (0..65535, rounded) of each stored value; NULL: none */
    const char *patient_id, *patient_name; /* invented */
    const char *uid_seed; /* UIDs are derived from it (2.25 form), so the same call writes the same bytes */
    const char *acquired_at; /* ISO, or NULL */
} bk_dicom_out;

/** Fill frame k (from 1) of rows x cols values; called once a frame, in order. */
typedef bk_status (*bk_dicom_next_frame)(void *context, int32_t frame, uint16_t *px, bk_err *err);

/** Write an XA file; all or nothing. Errors: BK_E_IO, BK_E_USAGE for a description that makes no sense. */
bk_status bk_dicom_write(const char *path, const bk_dicom_out *what, bk_dicom_next_frame next, void *context,
                         bk_err *err) BK_MUST_CHECK;

/** Version of the toolkit behind this header, for `version` and `selftest`. */
const char *bk_dicom_toolkit(void);

#ifdef __cplusplus
}
#endif
#endif
