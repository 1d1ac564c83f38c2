/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What kind of image it is, and what may stop us from reading it. */
#include "dicom/attributes.h"

#include <cmath>
#include <cstdio>
#include <cstring>

#include "base/file.h"
#include "dicom/file.h"

namespace bk
{

namespace
{

void put_text(char *out, size_t room, const std::string &text)
{
    snprintf(out, room, "%s", text.c_str());
}

bk_status read_size(const Attributes &in, PixelForm *form, bk_err *err)
{
    const long rows = in.integer(DCM_Rows, 0), cols = in.integer(DCM_Columns, 0);
    if (rows < 1 || cols < 1 || rows > BK_DICOM_SIDE_MAX || cols > BK_DICOM_SIDE_MAX)
        return bk_fail(err, BK_E_DATA, "an image of %ld rows and %ld columns was found, 1 to %d of each were expected",
                       rows, cols, BK_DICOM_SIDE_MAX);
    form->rows = static_cast<int32_t>(rows);
    form->cols = static_cast<int32_t>(cols);
    return BK_OK;
}

bk_status read_frame_count(const Attributes &in, PixelForm *form, bk_err *err)
{
    const long frames = in.has(DCM_NumberOfFrames) ? in.integer(DCM_NumberOfFrames, -1) : 1;
    if (frames > BK_DICOM_FRAMES_MAX)
        return bk_fail(err, BK_E_LIMIT, "%ld frames were found, %d are the most", frames, BK_DICOM_FRAMES_MAX);
    if (frames < 1)
        return bk_fail(err, BK_E_DATA, "a number of frames of \"%.20s\" was found, at least 1 was expected",
                       in.text(DCM_NumberOfFrames).c_str());
    form->declared_frames = static_cast<int32_t>(frames);
    return BK_OK;
}

bk_status read_bits(const Attributes &in, PixelForm *form, bk_err *err)
{
    const long allocated = in.integer(DCM_BitsAllocated, 0);
    const long stored = in.integer(DCM_BitsStored, allocated);
    const long high = in.integer(DCM_HighBit, stored - 1);
    if ((allocated != 8 && allocated != 16) || stored < 8 || stored > allocated || high < stored - 1 ||
        high >= allocated)
        return bk_fail(err, BK_E_DATA,
                       "pixels of %ld bits in cells of %ld (high bit %ld) were found, 8 to 16 in cells of 8 or 16 were "
                       "expected",
                       stored, allocated, high);
    form->allocated_bits = static_cast<unsigned>(allocated);
    form->stored_bits = static_cast<unsigned>(stored);
    form->high_bit = static_cast<unsigned>(high);
    form->is_signed = in.integer(DCM_PixelRepresentation, 0) == 1;
    return BK_OK;
}

bk_status read_photometric(const Attributes &in, bk_dicom_info *info, bk_err *err)
{
    const std::string photometric = in.text(DCM_PhotometricInterpretation);
    const long samples = in.integer(DCM_SamplesPerPixel, 1);
    const bool grey = photometric == "MONOCHROME1" || photometric == "MONOCHROME2";
    if (samples != 1 || !(grey || photometric.empty()))
        return bk_fail(err, BK_E_DATA, "colour pixels (%.20s, %ld samples a pixel) were found, grey ones were expected",
                       photometric.c_str(), samples);
    if (photometric.empty())
        warn(info, "photometric", "no photometric interpretation was found; taken as MONOCHROME2");
    info->monochrome1 = photometric == "MONOCHROME1";
    return BK_OK;
}

/* PS3.5 9.1: digits and points, at most 64, no component with a leading zero; the first arc is 0, 1 or 2. */
bool is_proper_uid(const std::string &uid)
{
    if (uid.size() > 64 || uid.size() < 3 || uid[0] > '2' || uid[1] != '.')
        return false;
    for (size_t i = 0; i < uid.size(); i++) {
        const bool first = i == 0 || uid[i - 1] == '.';
        const bool last = i + 1 == uid.size() || uid[i + 1] == '.';
        if (uid[i] == '.' ? first || last : uid[i] < '0' || uid[i] > '9' || (uid[i] == '0' && first && !last))
            return false;
    }
    return true;
}

void read_identity(const Attributes &in, bk_dicom *file)
{
    bk_dicom_info *info = &file->info;
    put_text(info->modality, sizeof info->modality, in.text(DCM_Modality, 0));
    put_text(info->sop_class, sizeof info->sop_class, in.text(DCM_SOPClassUID, 0));
    put_text(info->transfer_syntax, sizeof info->transfer_syntax, file->syntax->uid);
    for (const DcmTagKey &tag :
         {DCM_SOPClassUID, DCM_SOPInstanceUID, DCM_StudyInstanceUID, DCM_SeriesInstanceUID})
        if (in.has(tag) && !is_proper_uid(in.text(tag)))
            warn(info, "uid", "%s is not a valid UID; used as it stands", DcmTag(tag).getTagName());

    const std::string instance = in.text(DCM_SOPInstanceUID);
    if (!instance.empty())
        bk_sha256(instance.data(), instance.size(), file->sop_hash);
    const std::string id = in.text(DCM_PatientID), name = in.text(DCM_PatientName), born = in.text(DCM_PatientBirthDate);
    if (id.empty() && name.empty() && born.empty())
        return;
    const std::string patient = id + '\n' + name + '\n' + born;
    bk_sha256(patient.data(), patient.size(), file->patient_hash);
}

void read_intensity(const Attributes &top, bk_dicom_info *info)
{
    const Attributes in = top.has(DCM_PixelIntensityRelationship) ? top
                                                                 : top.group(DCM_FramePixelDataPropertiesSequence);
    const std::string relation = in.text(DCM_PixelIntensityRelationship, 0);
    if (relation == "LIN")
        info->intensity = BK_INTENSITY_LINEAR;
    else if (relation == "LOG")
        info->intensity = BK_INTENSITY_LOG;
    else if (relation == "DISP")
        info->intensity = BK_INTENSITY_DISPLAY;
    else if (!relation.empty())
        warn(info, "intensity", "a pixel intensity relationship of \"%.16s\" was found; taken as absent",
             relation.c_str());
    const long sign = in.integer(DCM_PixelIntensityRelationshipSign, 0);
    info->intensity_sign = sign == 1 ? 1 : sign == -1 ? -1 : 0;
}

void read_lossy(const Attributes &in, const Syntax &syntax, bk_dicom_info *info)
{
    /* (0008,2110) is where the first edition of the standard had it */
    info->lossy = syntax.always_lossy || in.text(DCM_LossyImageCompression, 0) == "01" ||
                  in.text(DCM_RETIRED_LossyImageCompressionRetired, 0) == "01";
    info->lossy_ratio = NAN;
    /* Several values are the steps a picture went through: the hardest one is what it has lost at least. */
    for (const double ratio : in.reals(DCM_LossyImageCompressionRatio))
        if (ratio > 0 && !(ratio <= info->lossy_ratio))
            info->lossy_ratio = ratio;
}

} // namespace

bk_status describe(DcmItem *dataset, bk_dicom *file, bk_err *err)
{
    bk_dicom_info *info = &file->info;
    PixelForm *form = &file->form;
    const Attributes in(dataset, info);
    bk_status status = read_size(in, form, err);
    if (status == BK_OK)
        status = read_photometric(in, info, err);
    if (status == BK_OK)
        status = read_frame_count(in, form, err);
    if (status == BK_OK)
        status = read_bits(in, form, err);
    if (status != BK_OK)
        return status;
    info->rows = form->rows;
    info->cols = form->cols;
    info->bits_stored = static_cast<int32_t>(form->stored_bits);
    info->is_signed = form->is_signed;
    read_identity(in, file);
    read_intensity(in, info);
    read_lossy(in, *file->syntax, info);
    describe_geometry(dataset, file);
    describe_modality(dataset, file);
    return BK_OK;
}

} // namespace bk
