/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/space/section.h"

#include <math.h>
#include <string.h>

#define DEG (180 / 3.14159265358979323846)

double bk_section_angle(bk_vec tangent, bk_vec ray)
{
    const bk_vec other = fabs(tangent.v[2]) < 0.9 ? bk_vec_of(0, 0, 1) : bk_vec_of(1, 0, 0);
    const bk_vec u = bk_vec_unit(bk_vec_cross(tangent, other)), v = bk_vec_cross(tangent, u);
    const bk_vec across = bk_vec_cross(ray, tangent);
    return atan2(bk_vec_dot(across, v), bk_vec_dot(across, u));
}

static double spread_deg(const bk_section_width *width, size_t n)
{
    double most = 0;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < i; j++)
            most = fmax(most, DEG * fabs(asin(sin(width[i].angle_rad - width[j].angle_rad))));
    return most;
}

/* Solve the symmetric 3 x 3 system a x = b; a becomes its inverse. */
static void solve(double a[3][3], const double b[3], double x[3])
{
    double inverse[3][3];
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) {
            const int r = (j + 1) % 3, s = (j + 2) % 3, c = (i + 1) % 3, d = (i + 2) % 3;
            inverse[i][j] = a[r][c] * a[s][d] - a[r][d] * a[s][c];
        }
    const double det = a[0][0] * inverse[0][0] + a[0][1] * inverse[1][0] + a[0][2] * inverse[2][0];
    for (int i = 0; i < 3; i++) {
        x[i] = 0;
        for (int j = 0; j < 3; j++) {
            inverse[i][j] /= det;
            x[i] += inverse[i][j] * b[j];
        }
    }
    memcpy(a, inverse, sizeof inverse);
}

bk_section bk_section_of(const bk_section_width *width, size_t n)
{
    double sum = 0, weights = 0;
    for (size_t i = 0; i < n; i++) {
        const double w = 1 / (width[i].sd_mm * width[i].sd_mm);
        sum += w * width[i].diameter_mm;
        weights += w;
    }
    const double mean = sum / weights, square = 0.25 * mean * mean, unround = BK_SECTION_UNROUND * square;
    double a[3][3] = {{0, 0, 0}, {0, 1 / (unround * unround), 0}, {0, 0, 1 / (unround * unround)}}, b[3] = {0}, x[3], squares = 0;
    for (size_t i = 0; i < n; i++) {
        const double f = 2 * width[i].angle_rad, row[3] = {1, cos(f), sin(f)}, half = 0.5 * width[i].diameter_mm;
        const double sd = 2 * half * 0.5 * width[i].sd_mm, w = 1 / (sd * sd);
        for (int p = 0; p < 3; p++) {
            b[p] += w * row[p] * half * half;
            for (int q = 0; q < 3; q++)
                a[p][q] += w * row[p] * row[q];
        }
        squares += pow((width[i].diameter_mm - mean) / width[i].sd_mm, 2);
    }
    solve(a, b, x);
    bk_section out = {.spread_deg = spread_deg(width, n), .unround = sqrt(fmax(a[0][0], 0)) / square};
    const double chi = n > 1 ? squares / (double)(n - 1) : 1;
    out.disagreement = n > 1 ? sqrt(chi) : 0;
    out.sd_mm = sqrt(fmax(chi, 1) / weights);
    const double away = fmin(hypot(x[1], x[2]), 0.9 * x[0]);
    if (out.spread_deg >= BK_SECTION_ELLIPSE_DEG && x[0] > 0) {
        out.minor_mm = 2 * sqrt(x[0] - away);
        out.major_mm = 2 * sqrt(x[0] + away);
    } else {
        out.minor_mm = out.major_mm = mean;
    }
    out.diameter_mm = sqrt(out.minor_mm * out.major_mm);
    return out;
}
