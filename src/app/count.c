/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/count.h"

#include <math.h>
#include <string.h>

#include "app/answer.h"
#include "app/frames.h"
#include "core/flow/count.h"

/* Time of a frame [ms] from the film's own list, else from its nominal interval; NaN: the film has neither. */
static double time_of(const bk_json *film, long frame)
{
    const bk_json *times = bk_json_get(film, "frame_times_ms");
    if (bk_json_count(times) >= (size_t)frame)
        return bk_json_number(bk_json_at(times, (size_t)frame - 1));
    return (double)(frame - 1) * bk_json_number(bk_json_get(film, "frame_time_ms"));
}

static bk_status vessel_of(const char *name, bk_count_vessel *out, bk_err *err)
{
    for (int v = 0; v < BK_COUNT_VESSELS; v++)
        if (strcmp(name, bk_count_vessel_names[v]) == 0) {
            *out = (bk_count_vessel)v;
            return BK_OK;
        }
    return bk_fail(err, BK_E_USAGE, "--vessel \"%.20s\" was found, lad, lcx or rca was expected", name);
}

/* What a person may put into the case, so that `ask flow` takes the flow from here. */
static bk_json *for_the_case(const bk_count *count)
{
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "path", "anatomy.front_velocity_cm_s");
    bk_json_put_qty(out, "value", bk_qty_of(count->velocity_cm_s, count->velocity_sd_cm_s, BK_MEASURED), 1);
    return out;
}

/* Normal counts disagree between series: each with its population, none blended. */
static bk_json *norm_json(const bk_evidence *row, bool corrected, bk_answer *answer)
{
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "value", row->value, 1);
    bk_json_put_fixed(out, "sd", row->sd, 1);
    bk_json_put_text(out, "of", corrected ? "corrected_frame_count" : "frames_at_30");
    bk_json_put_text(out, "population", row->population);
    bk_answer_source(answer, row->id);
    return out;
}

static bk_json *norms_json(bk_count_vessel vessel, bk_answer *answer)
{
    static const char *const first[] = {BK_EVIDENCE("timi_first_lad"), BK_EVIDENCE("timi_first_lcx"),
                                        BK_EVIDENCE("timi_first_rca")};
    static const char *const second[] = {BK_EVIDENCE("timi_second_lad"), BK_EVIDENCE("timi_second_lcx"),
                                         BK_EVIDENCE("timi_second_rca")};
    const bk_evidence_set *e = bk_evidence_builtin();
    bk_json *out = bk_json_array();
    bk_json_push(out, norm_json(bk_evidence_find(e, BK_EVIDENCE("timi_normal")), true, answer));
    bk_json_push(out, norm_json(bk_evidence_find(e, first[vessel]), false, answer));
    bk_json_push(out, norm_json(bk_evidence_find(e, second[vessel]), false, answer));
    return out;
}

static bk_json *count_json(const bk_count *count, bk_count_vessel vessel)
{
    static const char *const lengths[] = {BK_EVIDENCE("landmark_lad"), BK_EVIDENCE("landmark_lcx"),
                                          BK_EVIDENCE("landmark_rca")};
    const bk_evidence *norm = bk_evidence_find(bk_evidence_builtin(), BK_EVIDENCE("timi_normal"));
    bk_answer answer = bk_answer_start("count");
    bk_json *published = bk_json_object();
    bk_json_put_text(answer.json, "vessel", bk_count_vessel_names[vessel]);
    bk_json_put_fixed(answer.json, "frames_at_30", count->frames, 1);
    bk_json_put_fixed(answer.json, "corrected_frame_count", count->corrected, 1);
    bk_json_put_fixed(answer.json, "frame_step", count->half_width, 1);
    bk_json_put_fixed(answer.json, "front_velocity_cm_s", count->velocity_cm_s, 1);
    bk_json_put_fixed(answer.json, "front_velocity_sd_cm_s", count->velocity_sd_cm_s, 1);
    bk_json_put(answer.json, "for_the_case", for_the_case(count));
    bk_json_put_fixed(published, "value", norm->value, 1);
    bk_json_put_fixed(published, "sd", norm->sd, 1);
    bk_json_put(answer.json, "normal", published);
    bk_json_put(answer.json, "norms", norms_json(vessel, &answer));
    bk_answer_caution(&answer, "Either end may be off by one frame of the film (frame_step); two injections differ by 4.7 "
                               "(SD 3.9) frames; injection, heart rate and nitrates change the count.");
    bk_answer_caution(&answer, "Velocity takes the usual length to the landmark, from memory, not this patient's.");
    bk_answer_source(&answer, BK_EVIDENCE("timi_lad_factor"));
    bk_answer_source(&answer, BK_EVIDENCE("timi_rate"));
    bk_answer_source(&answer, BK_EVIDENCE("timi_repeat"));
    bk_answer_source(&answer, lengths[vessel]);
    return bk_answer_finish(&answer);
}

bk_status bk_app_count(const char *path, long first, long last, const char *vessel, bk_json **out, bk_err *err)
{
    bk_json *film = NULL;
    bk_count_vessel which = BK_COUNT_LAD;
    *out = NULL;
    bk_status status = vessel_of(vessel, &which, err);
    if (status == BK_OK)
        status = bk_frames_describe(path, &film, err);
    if (status != BK_OK)
        return status;
    const double frames = bk_json_number(bk_json_get(film, "frames"));
    const bool inside = first >= 1 && first < last && (double)last <= frames;
    const double seconds = inside ? (time_of(film, last) - time_of(film, first)) / 1000 : (double)NAN;
    if (!inside)
        status = bk_fail(err, BK_E_USAGE, "frames %ld to %ld were found, two rising numbers from 1 to %.0f were expected",
                         first, last, frames);
    else if (!(seconds > 0))
        status = bk_fail(err, BK_E_DATA, "a film without frame times was found, times that rise were expected");
    if (status == BK_OK) {
        const bk_count count = bk_count_of(seconds, seconds / (double)(last - first), which, bk_evidence_builtin());
        *out = count_json(&count, which);
    }
    bk_json_free(film);
    return status;
}
