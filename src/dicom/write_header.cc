/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The attributes of an X-ray angiographic image (PS3.3 A.14): those that carry the description, and the empty ones
   that the standard wants to be there. */
#include "dicom/write.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstring>
#include <string>
#include <vector>

#include "dcmtk/dcmdata/dcdeftag.h"
#include "dcmtk/dcmdata/dcitem.h"
#include "dcmtk/dcmdata/dcuid.h"

#include "base/file.h"
#include "base/number.h"

namespace bk
{

namespace
{

/* Puts attributes one after the other and remembers whether one failed. */
class Writer
{
  public:
    explicit Writer(DcmItem *item) : item_(item)
    {
    }
    void text(const DcmTagKey &tag, const std::string &value)
    {
        ok_ = item_->putAndInsertString(tag, value.c_str()).good() && ok_;
    }
    void number(const DcmTagKey &tag, long value)
    {
        ok_ = item_->putAndInsertUint16(tag, static_cast<Uint16>(value)).good() && ok_;
    }
    /* left out when it is not a number */
    void real(const DcmTagKey &tag, double value)
    {
        if (std::isfinite(value))
            text(tag, decimal(value));
    }
    void real_or_empty(const DcmTagKey &tag, double value)
    {
        text(tag, std::isfinite(value) ? decimal(value) : "");
    }
    void check(const OFCondition &done)
    {
        ok_ = done.good() && ok_;
    }
    bool ok() const
    {
        return ok_;
    }
    DcmItem *item()
    {
        return item_;
    }
    static std::string decimal(double value)
    {
        char out[BK_NUMBER_TEXT];
        bk_number_print(out, bk_round_to(value, 9));
        if (strlen(out) > 16) /* the room of a DS */
            bk_number_fixed(out, value, 3);
        return out;
    }

  private:
    DcmItem *item_;
    bool ok_ = true;
};

/* PS3.5 B.2: 2.25 and a 128-bit number in decimal; ours are the first 128 bits of a hash. */
std::string uid_from(const char *seed, const char *role)
{
    __extension__ typedef unsigned __int128 Wide;
    const std::string text = std::string(role) + ':' + seed;
    char hash[65];
    bk_sha256(text.data(), text.size(), hash);
    Wide value = 0;
    for (int i = 0; i < 32; i++)
        value = value << 4 | static_cast<unsigned>(hash[i] <= '9' ? hash[i] - '0' : hash[i] - 'a' + 10);
    std::string digits;
    for (; value > 0; value /= 10)
        digits += static_cast<char>('0' + static_cast<int>(value % 10));
    std::reverse(digits.begin(), digits.end());
    return "2.25." + (digits.empty() ? "0" : digits);
}

/* "2026-11-25T10:30:00" to "20261125" and "103000" */
bool split_moment(const char *iso, std::string *date, std::string *time)
{
    static const char form[] = "dddd-dd-ddTdd:dd:dd";
    if (strlen(iso) != sizeof form - 1)
        return false;
    for (size_t i = 0; form[i]; i++) {
        const bool digit = iso[i] >= '0' && iso[i] <= '9';
        if (form[i] == 'd' ? !digit : iso[i] != form[i])
            return false;
        if (digit)
            (i < 10 ? *date : *time) += iso[i];
    }
    return true;
}

bk_status put_who_and_when(const bk_dicom_out &what, Writer *out, bk_err *err)
{
    std::string date, time;
    if (what.acquired_at && !split_moment(what.acquired_at, &date, &time))
        return bk_fail(err, BK_E_USAGE, "a time of \"%.32s\" was found, YYYY-MM-DDThh:mm:ss was expected",
                       what.acquired_at);
    for (const DcmTagKey &tag : {DCM_StudyDate, DCM_SeriesDate, DCM_AcquisitionDate, DCM_ContentDate})
        out->text(tag, date);
    for (const DcmTagKey &tag : {DCM_StudyTime, DCM_SeriesTime, DCM_AcquisitionTime, DCM_ContentTime})
        out->text(tag, time);
    out->text(DCM_PatientID, what.patient_id ? what.patient_id : "");
    out->text(DCM_PatientName, what.patient_name ? what.patient_name : "");
    for (const DcmTagKey &tag : {DCM_PatientBirthDate, DCM_PatientSex, DCM_AccessionNumber, DCM_Manufacturer,
                                 DCM_ReferringPhysicianName, DCM_StudyID, DCM_PatientOrientation, DCM_ContrastBolusAgent,
                                 DCM_KVP, DCM_XRayTubeCurrent, DCM_ExposureTime})
        out->text(tag, "");
    out->text(DCM_SOPClassUID, UID_XRayAngiographicImageStorage);
    out->text(DCM_SOPInstanceUID, uid_from(what.uid_seed, "instance"));
    /* runs of one patient belong together, whatever seeds their instances */
    const char *patient = what.patient_id && *what.patient_id ? what.patient_id : what.uid_seed;
    out->text(DCM_StudyInstanceUID, uid_from(patient, "study"));
    out->text(DCM_SeriesInstanceUID, uid_from(patient, "series"));
    out->text(DCM_SeriesNumber, "1");
    out->text(DCM_InstanceNumber, "1");
    out->text(DCM_Modality, "XA");
    out->text(DCM_BodyPartExamined, "HEART");
    return BK_OK;
}

void put_geometry(const bk_dicom_out &what, Writer *out)
{
    out->text(DCM_RadiationSetting, "GR");
    out->text(DCM_PositionerType, "CARM");
    out->text(DCM_PositionerMotion, "STATIC");
    out->real_or_empty(DCM_PositionerPrimaryAngle, what.primary_deg);
    out->real_or_empty(DCM_PositionerSecondaryAngle, what.secondary_deg);
    out->real(DCM_DistanceSourceToDetector, what.sid_mm);
    out->real(DCM_DistanceSourceToPatient, what.sod_mm);
    out->real(DCM_EstimatedRadiographicMagnificationFactor, what.sid_mm / what.sod_mm);
    if (std::isfinite(what.imager_spacing_mm[0]) && std::isfinite(what.imager_spacing_mm[1]))
        out->text(DCM_ImagerPixelSpacing,
                  Writer::decimal(what.imager_spacing_mm[0]) + '\\' + Writer::decimal(what.imager_spacing_mm[1]));
}

void put_times(const bk_dicom_out &what, Writer *out)
{
    if (what.frames > 1 || std::isfinite(what.frame_time_ms))
        out->text(DCM_NumberOfFrames, std::to_string(what.frames));
    if (std::isfinite(what.frame_time_ms)) {
        out->real(DCM_FrameTime, what.frame_time_ms);
        out->check(out->item()->putAndInsertTagKey(DCM_FrameIncrementPointer, DCM_FrameTime));
    }
    if (what.r_waves_n == 0)
        return;
    const std::vector<Uint16> waves(what.r_waves, what.r_waves + what.r_waves_n);
    out->check(out->item()->putAndInsertUint16Array(DCM_RWavePointer, waves.data(), waves.size()));
}

void put_pixel_form(const bk_dicom_out &what, double lossy_ratio, Writer *out)
{
    out->number(DCM_SamplesPerPixel, 1);
    out->text(DCM_PhotometricInterpretation, "MONOCHROME2");
    out->number(DCM_Rows, what.rows);
    out->number(DCM_Columns, what.cols);
    out->number(DCM_BitsAllocated, what.bits_stored <= 8 ? 8 : 16);
    out->number(DCM_BitsStored, what.bits_stored);
    out->number(DCM_HighBit, what.bits_stored - 1);
    out->number(DCM_PixelRepresentation, 0);
    static const char *const relations[] = {nullptr, "LIN", "LOG", "DISP"};
    if (relations[what.intensity]) {
        out->text(DCM_PixelIntensityRelationship, relations[what.intensity]);
        out->check(out->item()->putAndInsertSint16(DCM_PixelIntensityRelationshipSign, 1));
    }
    const bool lossy = std::isfinite(lossy_ratio);
    out->text(DCM_ImageType, lossy ? "DERIVED\\PRIMARY\\SINGLE PLANE" : "ORIGINAL\\PRIMARY\\SINGLE PLANE");
    out->text(DCM_LossyImageCompression, lossy ? "01" : "00");
    if (!lossy)
        return;
    out->real(DCM_LossyImageCompressionRatio, bk_round_to(lossy_ratio, 3));
    out->text(DCM_LossyImageCompressionMethod, "ISO_10918_1");
    out->text(DCM_DerivationDescription, "lossy JPEG compression");
}

void put_modality_lut(const bk_dicom_out &what, Writer *out)
{
    if (!what.modality_lut)
        return;
    const size_t n = static_cast<size_t>(1) << what.bits_stored;
    std::vector<Uint16> data(n);
    for (size_t i = 0; i < n; i++)
        data[i] = static_cast<Uint16>(std::lround(std::clamp(static_cast<double>(what.modality_lut[i]), 0.0, 65535.0)));
    DcmItem *item = nullptr;
    out->check(out->item()->findOrCreateSequenceItem(DCM_ModalityLUTSequence, item, -2));
    if (!item)
        return;
    const Uint16 descriptor[3] = {static_cast<Uint16>(n == 65536 ? 0 : n), 0, 16};
    out->check(item->putAndInsertUint16Array(DcmTag(DCM_LUTDescriptor, EVR_US), descriptor, 3));
    out->check(item->putAndInsertString(DCM_ModalityLUTType, "US")); /* "unspecified": no unit of its own */
    out->check(item->putAndInsertUint16Array(DcmTag(DCM_LUTData, EVR_OW), data.data(), n));
}

} // namespace

bk_status fill_header(const bk_dicom_out &what, double lossy_ratio, DcmItem *dataset, bk_err *err)
{
    Writer out(dataset);
    const bk_status status = put_who_and_when(what, &out, err);
    if (status != BK_OK)
        return status;
    put_geometry(what, &out);
    put_times(what, &out);
    put_pixel_form(what, lossy_ratio, &out);
    put_modality_lut(what, &out);
    return out.ok() ? BK_OK : bk_fail(err, BK_E_INTERNAL, "the DICOM header could not be put together");
}

} // namespace bk
