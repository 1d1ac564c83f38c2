/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The door: no exception and no pointer of the toolkit's gets through. */
#include "dicom/file.h"

#include <algorithm>
#include <cstring>
#include <memory>

#include "dicom/guard.h"

namespace bk
{

namespace
{

template <typename T> size_t copy_some(const std::vector<T> &from, T *out, size_t n)
{
    const size_t copied = std::min(n, from.size());
    std::copy_n(from.begin(), copied, out);
    return copied;
}

} // namespace

} // namespace bk

extern "C" {

bk_status bk_dicom_open(const char *path, bk_dicom **out, bk_err *err)
{
    *out = nullptr;
    return bk::guarded(err, [&] {
        std::unique_ptr<bk_dicom> file(new bk_dicom);
        const bk_status status = bk::open_file(path, file.get(), err);
        if (status == BK_OK)
            *out = file.release();
        return status;
    });
}

void bk_dicom_close(bk_dicom *file)
{
    delete file;
}

void bk_dicom_describe(const bk_dicom *file, bk_dicom_info *out)
{
    *out = file->info;
}

size_t bk_dicom_frame_times(const bk_dicom *file, double *out, size_t n)
{
    return bk::copy_some(file->times_ms, out, n);
}

size_t bk_dicom_r_waves(const bk_dicom *file, int32_t *out, size_t n)
{
    return bk::copy_some(file->r_waves, out, n);
}

void bk_dicom_hashes(const bk_dicom *file, char sop_uid[65], char patient[65])
{
    memcpy(sop_uid, file->sop_hash, sizeof file->sop_hash);
    memcpy(patient, file->patient_hash, sizeof file->patient_hash);
}

bk_status bk_dicom_frame(bk_dicom *file, int32_t frame, uint16_t *out, size_t capacity, bk_err *err)
{
    return bk::guarded(err, [&] { return bk::decode_frame(file, frame, out, capacity, err); });
}

bk_status bk_dicom_modality_values(const bk_dicom *file, float *out, size_t n, bk_err *err)
{
    const size_t wanted = static_cast<size_t>(1) << file->form.stored_bits;
    if (n < wanted)
        return bk_fail(err, BK_E_USAGE, "room for %zu modality values was given, %zu were expected", n,
                       wanted);
    if (!file->modality.empty()) {
        std::copy(file->modality.begin(), file->modality.end(), out);
        return BK_OK;
    }
    const float lift = file->form.is_signed ? static_cast<float>(wanted / 2) : 0.0f;
    for (size_t i = 0; i < wanted; i++)
        out[i] = static_cast<float>(i) - lift;
    return BK_OK;
}

} /* extern "C" */
