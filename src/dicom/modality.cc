/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Modality values: what a stored value stands for. PS3.3 C.11.1: a LUT, or a slope and an intercept. In an XA run
   whose values are logarithms the LUT leads back to values in proportion to the X-ray intensity (C.8.7.1.1.2);
   enhanced XA has it as a "to linear" LUT (0028,9422). */
#include "dicom/attributes.h"

#include <algorithm>
#include <cmath>

#include "dcmtk/dcmdata/dcsequen.h"

#include "dicom/file.h"

namespace bk
{

namespace
{

/* What an unshifted stored value is, from the shifted one that bk_dicom_frame gives. */
long plain_value(const PixelForm &form, size_t shifted)
{
    const long value = static_cast<long>(shifted);
    return form.is_signed ? value - (1L << (form.stored_bits - 1)) : value;
}

struct Lut {
    long entries, first;
    std::vector<float> values;
};

/* n entries of 16 bits; or of 8, then two of them share a word, the first in its low byte. */
bool read_lut_data(DcmItem *item, long entries, long bits, std::vector<float> *out)
{
    const Uint16 *words = nullptr;
    unsigned long n = 0;
    if (item->findAndGetUint16Array(DCM_LUTData, words, &n).bad() || !words)
        return false;
    const unsigned long wanted = static_cast<unsigned long>(entries);
    const bool packed = bits <= 8 && n == (wanted + 1) / 2;
    if (!packed && n < wanted)
        return false;
    out->clear();
    for (unsigned long i = 0; i < wanted; i++) {
        const unsigned word = packed ? words[i / 2] >> (i % 2 ? 8 : 0) & 0xff : words[i];
        out->push_back(static_cast<float>(word));
    }
    return true;
}

bool read_lut(DcmItem *item, bool is_signed, Lut *lut)
{
    long bits;
    DcmElement *descriptor = nullptr;
    if (item->findAndGetElement(DCM_LUTDescriptor, descriptor).bad() || !descriptor)
        return false;
    /* the count is unsigned whatever the type says; the first value is signed when the pixels are */
    Uint16 part[3];
    for (unsigned long i = 0; i < 3; i++) {
        Sint16 negative;
        if (descriptor->getUint16(part[i], i).good())
            continue;
        if (descriptor->getSint16(negative, i).bad())
            return false;
        part[i] = static_cast<Uint16>(negative);
    }
    lut->entries = part[0] ? part[0] : 65536; /* PS3.3 C.11.1.1.1: 0 stands for 2^16 */
    lut->first = is_signed ? static_cast<Sint16>(part[1]) : part[1];
    bits = part[2];
    return bits >= 8 && bits <= 16 && read_lut_data(item, lut->entries, bits, &lut->values);
}

void apply_lut(const Lut &lut, bk_dicom *file)
{
    file->modality.resize(static_cast<size_t>(1) << file->form.stored_bits);
    for (size_t i = 0; i < file->modality.size(); i++) {
        const long at = std::clamp(plain_value(file->form, i) - lut.first, 0L, lut.entries - 1);
        file->modality[i] = lut.values[static_cast<size_t>(at)];
    }
}

DcmItem *find_to_linear_lut(const Attributes &in)
{
    const DcmTagKey tag = DCM_PixelIntensityRelationshipLUTSequence;
    for (const Attributes &holder : {in, in.inside(DCM_SharedFunctionalGroupsSequence),
                                     in.inside(DCM_PerFrameFunctionalGroupsSequence)}) {
        DcmSequenceOfItems *sequence = nullptr;
        if (!holder.item() || holder.item()->findAndGetSequence(tag, sequence).bad() || !sequence)
            continue;
        DcmObject *object = nullptr;
        while ((object = sequence->nextInContainer(object))) {
            bk_dicom_info unused = {};
            DcmItem *item = static_cast<DcmItem *>(object);
            if (Attributes(item, &unused).text(DCM_LUTFunction, 0) == "TO_LINEAR")
                return item;
        }
    }
    return nullptr;
}

bool describe_lut(const Attributes &in, bk_dicom *file)
{
    DcmItem *item = in.inside(DCM_ModalityLUTSequence).item();
    if (!item)
        item = find_to_linear_lut(in);
    if (!item)
        return false;
    Lut lut;
    if (!read_lut(item, file->form.is_signed, &lut)) {
        warn(&file->info, "modality_lut", "a damaged modality LUT was found; not used");
        return false;
    }
    apply_lut(lut, file);
    return true;
}

bool describe_rescale(const Attributes &top, bk_dicom *file)
{
    const Attributes in = top.has(DCM_RescaleSlope) ? top : top.group(DCM_PixelValueTransformationSequence);
    if (!in.has(DCM_RescaleSlope) && !in.has(DCM_RescaleIntercept))
        return false;
    const double slope = in.real(DCM_RescaleSlope), intercept = in.real(DCM_RescaleIntercept);
    if (std::isnan(slope) || std::isnan(intercept) || std::fabs(slope) < 1e-30 || std::fabs(slope) > 1e30 ||
        std::fabs(intercept) > 1e30) {
        warn(&file->info, "rescale", "a rescale without a usable slope and intercept was found; not used");
        return false;
    }
    if (!(std::fabs(slope - 1) > 0) && !(std::fabs(intercept) > 0))
        return false;
    file->modality.resize(static_cast<size_t>(1) << file->form.stored_bits);
    for (size_t i = 0; i < file->modality.size(); i++)
        file->modality[i] = static_cast<float>(slope * static_cast<double>(plain_value(file->form, i)) + intercept);
    return true;
}

} // namespace

void describe_modality(DcmItem *dataset, bk_dicom *file)
{
    bk_dicom_info *info = &file->info;
    const Attributes in(dataset, info);
    const bool lut = describe_lut(in, file);
    info->has_modality_lut = lut || describe_rescale(in, file);
    if (info->intensity == BK_INTENSITY_LOG && !info->has_modality_lut)
        warn(info, "log_without_lut", "logarithmic pixels without the LUT that leads back to intensity were found");
}

} // namespace bk
