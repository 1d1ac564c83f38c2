/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Angles, distances, spacings, shutter. Classic XA has them in the data set; enhanced XA in functional groups
   (PS3.3 C.8.19.6), where the distance from the source to the isocentre is (0018,9402). */
#include "dicom/attributes.h"

#include <algorithm>
#include <cmath>

#include "dicom/file.h"

namespace bk
{

namespace
{

double angle(double value, double limit_deg, const char *name, bk_dicom_info *info)
{
    if (!(std::fabs(value) > limit_deg))
        return value;
    warn(info, "angle_range", "%s angle: %g degrees was found, at most %g was expected; taken as absent", name, value,
         limit_deg);
    return NAN;
}

/* A rotational run has no one view: say so, and give that of frame 1. */
bool view_moves(const Attributes &in)
{
    for (const DcmTagKey &tag : {DCM_PositionerPrimaryAngleIncrement, DCM_PositionerSecondaryAngleIncrement})
        for (const double increment : in.reals(tag))
            if (std::fabs(increment) > 0)
                return true;
    const Attributes first = in.frame_group(DCM_PositionerPositionSequence, 0);
    const Attributes last = in.frame_group(DCM_PositionerPositionSequence, -1);
    for (const DcmTagKey &tag : {DCM_PositionerPrimaryAngle, DCM_PositionerSecondaryAngle})
        if (std::fabs(first.real(tag) - last.real(tag)) > 0)
            return true;
    return false;
}

void read_view(const Attributes &in, bk_dicom_info *info)
{
    const Attributes group = in.group(DCM_PositionerPositionSequence);
    info->primary_deg = angle(first_known(in.real(DCM_PositionerPrimaryAngle), group.real(DCM_PositionerPrimaryAngle)),
                              180, "primary", info);
    info->secondary_deg = angle(
        first_known(in.real(DCM_PositionerSecondaryAngle), group.real(DCM_PositionerSecondaryAngle)), 90, "secondary",
        info);
    if (view_moves(in))
        warn(info, "moving_view", "the positioner moves during the run; the angles are those of frame 1");
    const Attributes field = in.group(DCM_FieldOfViewSequence);
    const double rotation = first_known(in.real(DCM_FieldOfViewRotation), field.real(DCM_FieldOfViewRotation));
    const bool flipped = in.text(DCM_FieldOfViewHorizontalFlip, 0) == "YES" ||
                         field.text(DCM_FieldOfViewHorizontalFlip, 0) == "YES";
    if (flipped || std::fabs(rotation) > 0)
        warn(info, "view_flipped", "the stored image is turned by %g degrees%s against the receptor",
             std::isnan(rotation) ? 0 : rotation, flipped ? " and flipped" : "");
}

void read_distances(const Attributes &in, bk_dicom_info *info)
{
    const Attributes group = in.group(DCM_XRayGeometrySequence);
    info->sid_mm = first_known(in.positive(DCM_DistanceSourceToDetector), group.positive(DCM_DistanceSourceToDetector));
    info->sod_mm = first_known(in.positive(DCM_DistanceSourceToPatient),
                               group.positive(DCM_DistanceSourceToIsocenter));
    const double magnification = in.positive(DCM_EstimatedRadiographicMagnificationFactor);
    if (std::isnan(info->sod_mm) && magnification >= 1) { /* defined as SID over SOD */
        info->sod_mm = info->sid_mm / magnification;
        if (!std::isnan(info->sod_mm))
            warn(info, "sod_from_ermf", "no source to patient distance was found; computed from the magnification");
    }
    if (info->sod_mm >= info->sid_mm)
        warn(info, "distances", "the patient (%g mm) is not between source and detector (%g mm)", info->sod_mm,
             info->sid_mm);
}

/* Row and column spacing; both or none. */
bool read_spacing(const Attributes &in, const DcmTagKey &tag, double out[2], bk_dicom_info *info)
{
    out[0] = out[1] = NAN;
    const std::vector<double> values = in.reals(tag);
    if (values.empty())
        return false;
    if (values.size() != 2 || !(values[0] > 0) || !(values[1] > 0)) {
        warn(info, "spacing", "%s does not hold two values above 0; taken as absent", DcmTag(tag).getTagName());
        return false;
    }
    std::copy(values.begin(), values.end(), out);
    return true;
}

void read_shutter(const Attributes &top, bk_dicom_info *info)
{
    const Attributes in = top.has(DCM_ShutterShape) ? top : top.group(DCM_FrameDisplayShutterSequence);
    bool rectangular = false;
    for (const std::string &shape : split_values(in.text(DCM_ShutterShape))) {
        rectangular = rectangular || shape == "RECTANGULAR";
        if (shape == "CIRCULAR" || shape == "POLYGONAL")
            warn(info, "shutter_shape", "a %s shutter was found; only the rectangular one is used", shape.c_str());
    }
    if (!rectangular)
        return;
    /* PS3.3 C.7.6.11: the first row and column are 1; the edges themselves are inside */
    const long left = in.integer(DCM_ShutterLeftVerticalEdge, 0) - 1;
    const long right = in.integer(DCM_ShutterRightVerticalEdge, 0) - 1;
    const long top_row = in.integer(DCM_ShutterUpperHorizontalEdge, 0) - 1;
    const long bottom = in.integer(DCM_ShutterLowerHorizontalEdge, 0) - 1;
    if (left >= right || top_row >= bottom || right < 0 || bottom < 0 || left >= info->cols || top_row >= info->rows) {
        warn(info, "shutter", "a shutter that leaves nothing was found; taken as absent");
        return;
    }
    info->shutter = true;
    info->shutter_left = static_cast<int32_t>(std::max(left, 0L));
    info->shutter_top = static_cast<int32_t>(std::max(top_row, 0L));
    info->shutter_right = static_cast<int32_t>(std::min(right, info->cols - 1L));
    info->shutter_bottom = static_cast<int32_t>(std::min(bottom, info->rows - 1L));
}

} // namespace

void describe_geometry(DcmItem *dataset, bk_dicom *file)
{
    bk_dicom_info *info = &file->info;
    const Attributes in(dataset, info);
    read_view(in, info);
    read_distances(in, info);
    if (!read_spacing(in, DCM_ImagerPixelSpacing, info->imager_spacing_mm, info))
        read_spacing(in.group(DCM_FramePixelDataPropertiesSequence), DCM_ImagerPixelSpacing, info->imager_spacing_mm,
                     info);
    if (!read_spacing(in, DCM_PixelSpacing, info->pixel_spacing_mm, info))
        read_spacing(in.group(DCM_PixelMeasuresSequence), DCM_PixelSpacing, info->pixel_spacing_mm, info);
    read_shutter(in, info);
}

} // namespace bk
