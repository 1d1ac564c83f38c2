/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which frames, and where the vessel is in them. */
#include <math.h>

#include "app/intensity.h"
#include "app/repeat_inside.h"
#include "base/format.h"
#include "core/anatomy/calibration.h"
#include "core/image/curve.h"
#include "core/image/follow.h"

static const double lead_mm[BK_REPEAT_LEADS] = {3, 6}; /* beyond the ostium, where ways may part */
#define LEAD_MATCH 0.6

void bk_repeat_choose_frames(bk_repeat *r, int n)
{
    const int32_t frames = r->info.frames, own = r->options->frame;
    r->n = n < frames ? n : (int)frames;
    int32_t first = own - r->n / 2;
    first = first + r->n - 1 > frames ? frames - r->n + 1 : first;
    first = first < 1 ? 1 : first;
    for (int i = 0; i < r->n; i++) {
        r->rows[i].frame = first + i;
        r->rows[i].match = NAN;
    }
    r->own = (int)(own - first);
    r->rows[r->own].followed = true;
    bk_pt_px *point = r->rows[r->own].point;
    for (int k = 0; k < BK_LIMBS; k++)
        point[k] = (bk_pt_px){r->options->click_px[k][0], r->options->click_px[k][1]};
    for (size_t i = 0; i < r->said.via.n; i++) {
        const bk_way_point *v = &BK_ITEMS(r->said.via, bk_way_point)[i];
        point[BK_LIMBS + i] = (bk_pt_px){v->x_px, v->y_px};
    }
    r->points_n = r->leads_from = BK_LIMBS + r->said.via.n;
}


double bk_repeat_scale(const bk_repeat *r)
{
    return isfinite(r->mm_per_px) ? r->mm_per_px : bk_scale_usual(r->info.cols);
}

static bool has_way_points(const bk_repeat *r, int limb)
{
    return bk_corrections_via(&r->said, limb, NULL, 0) > 0;
}

void bk_repeat_choose_leads(bk_repeat *r, const bk_json *answer)
{
    const double mm = bk_repeat_scale(r);
    for (int k = BK_DISTAL; k < BK_LIMBS; k++) {
        const bk_json *profile = bk_json_get(bk_json_get(bk_json_get(answer, "segments"), bk_limb_name(k)), "profile");
        const bk_json *x = bk_json_get(profile, "x_px"), *y = bk_json_get(profile, "y_px");
        const size_t n = bk_json_count(x);
        double length = 0;
        int placed = 0;
        for (size_t i = 1; i < n && placed < BK_REPEAT_LEADS && !has_way_points(r, k); i++) {
            const bk_pt_px a = {bk_json_number(bk_json_at(x, i - 1)), bk_json_number(bk_json_at(y, i - 1))};
            const bk_pt_px b = {bk_json_number(bk_json_at(x, i)), bk_json_number(bk_json_at(y, i))};
            length += bk_px_distance(a, b) * mm;
            if (length < lead_mm[placed])
                continue;
            r->lead_limb[r->points_n - r->leads_from] = k;
            r->rows[r->own].point[r->points_n++] = b;
            placed++;
        }
    }
}

/* A point in words: "side click", "distal way-point". */
static void name_point(const bk_repeat *r, size_t k, char out[32])
{
    const bool click = k < BK_LIMBS;
    const int limb = click ? (int)k : BK_ITEMS(r->said.via, bk_way_point)[k - BK_LIMBS].limb - 1;
    bk_format(out, 32, "%s %s", bk_limb_name(limb), click ? "click" : "way-point");
}

/* Say in the row why a point is lost, if it is. */
static void judge_point(const bk_repeat *r, bk_repeat_row *to, const bk_repeat_row *from, size_t k, const bk_followed *found)
{
    char name[32];
    name_point(r, k, name);
    const bk_pt_px p = found->at;
    if (!(found->match >= BK_FOLLOW_MATCH))
        bk_format(to->reason, sizeof to->reason,
                  "the vessel at the %s was lost between frames %d and %d: correlation %.2f, at least %.2f was expected", name,
                  (int)from->frame, (int)to->frame, found->match, BK_FOLLOW_MATCH);
    else if (!(found->left >= BK_FOLLOW_LEFT))
        bk_format(to->reason, sizeof to->reason,
                  "contrast at the %s fell to %.0f %% between frames %d and %d, at least %.0f %% was expected", name,
                  100 * found->left, (int)from->frame, (int)to->frame, 100 * BK_FOLLOW_LEFT);
    else if (!(p.x >= 0 && p.y >= 0 && p.x <= r->info.cols - 1 && p.y <= r->info.rows - 1))
        bk_format(to->reason, sizeof to->reason, "the %s leaves the picture in frame %d", name, (int)to->frame);
}

/* Take over where the points are now, or say in the row why they are lost. */
static void judge(const bk_repeat *r, bk_repeat_row *to, const bk_repeat_row *from, const bk_followed *found)
{
    bk_pt_px moved = {0, 0};
    to->match = 1;
    for (size_t k = 0; k < r->leads_from; k++) {
        to->point[k] = found[k].at;
        to->match = fmin(to->match, found[k].match);
        moved.x += (found[k].at.x - from->point[k].x) / (double)r->leads_from;
        moved.y += (found[k].at.y - from->point[k].y) / (double)r->leads_from;
        if (!to->reason[0])
            judge_point(r, to, from, k, &found[k]);
    }
    for (size_t k = r->leads_from; k < r->points_n; k++) {
        to->lost[k] = !(found[k].match >= LEAD_MATCH && found[k].left >= BK_FOLLOW_LEFT);
        to->point[k] = to->lost[k] ? (bk_pt_px){from->point[k].x + moved.x, from->point[k].y + moved.y} : found[k].at;
    }
    to->followed = !to->reason[0];
}

/* Follow the points into row i; on success `to` is the frame's log image, in arena `there`. */
static bk_status follow_into(bk_repeat *r, const bk_image *from, int last, int i, bk_arena *there, bk_image *to, bk_err *err)
{
    bk_followed found[BK_REPEAT_POINTS];
    bk_err local = {0};
    bk_repeat_row *to_row = &r->rows[i];
    bk_status status = bk_app_log_frame(r->file, &r->info, to_row->frame, there, to, &local);
    if (status == BK_E_DATA) {
        bk_format(to_row->reason, sizeof to_row->reason, "%s", local.message);
        return BK_OK;
    }
    if (status != BK_OK)
        return bk_fail(err, status, "%s", local.message);
    status = bk_follow_points(from, to, r->rows[last].point, r->points_n, bk_repeat_scale(r), there, found, err);
    if (status == BK_OK)
        judge(r, to_row, &r->rows[last], found);
    return status;
}

bk_status bk_repeat_carry(bk_repeat *r, int step, bk_err *err)
{
    bk_image from = {0}, to = {0};
    int here = 0, last = r->own, i = r->own + step;
    bk_arena_init(&r->arena[0], BK_REPEAT_MEMORY);
    bk_arena_init(&r->arena[1], BK_REPEAT_MEMORY);
    bk_status status = bk_app_log_frame(r->file, &r->info, r->rows[last].frame, &r->arena[here], &from, err);
    int32_t lost = 0; /* frame */
    for (; status == BK_OK && lost == 0 && i >= 0 && i < r->n; i += step) {
        status = follow_into(r, &from, last, i, &r->arena[1 - here], &to, err);
        if (isfinite(r->rows[i].match) && !r->rows[i].followed)
            lost = r->rows[i].frame;
        const bool moved_on = status == BK_OK && r->rows[i].followed;
        bk_arena_clear(&r->arena[moved_on ? here : 1 - here]);
        bk_arena_init(&r->arena[moved_on ? here : 1 - here], BK_REPEAT_MEMORY);
        if (moved_on) {
            from = to;
            here = 1 - here;
            last = i;
        }
    }
    for (; status == BK_OK && i >= 0 && i < r->n; i += step)
        bk_format(r->rows[i].reason, sizeof r->rows[i].reason, "not followed: the vessel was lost in frame %d", (int)lost);
    bk_arena_clear(&r->arena[0]);
    bk_arena_clear(&r->arena[1]);
    return status;
}
