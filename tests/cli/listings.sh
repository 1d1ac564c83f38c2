#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# fields and evidence list what there is.
. "$(dirname "$0")/common_case.sh"
ok fields
says '"name": "anatomy.segments.side.reference_mm"'
ok fields patient
says '"name": "patient.creatinine_umol_l"'
says '"unit": "umol/L"'
says '"min": 18'
lacks '"topic": "anatomy"'
ok fields anatomy
holds '"choices": ["left_main", "lad_diagonal", "lcx_marginal", "rca_crux", "other"]'
says '"origin_of_a_bare_number": "visual"'
refused 2 'topic "pateint" is unknown, the nearest known one is "patient"' fields pateint
ok evidence
says '"id": "law_hk"'
ok evidence law_fractal
says '"value": 0.678'
says '"standing": "seen"'
lacks '"id": "law_hk"'
refused 2 'evidence "law_fractle" is unknown, the nearest known one is "law_fractal"' evidence law_fractle
refused 2 'unexpected word "b", at most 1 plain words were expected' evidence law_hk b
