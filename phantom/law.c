/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "phantom/law.h"

#include <math.h>

static double power_law(double exponent, double a, double b)
{
    return pow(pow(a, exponent) + pow(b, exponent), 1 / exponent);
}

double ph_law_mother_mm(ph_branch_law law, double first_mm, double second_mm)
{
    switch (law) {
    case PH_LAW_HK:
        return power_law(7.0 / 3, first_mm, second_mm);
    case PH_LAW_FINET:
        return 0.678 * (first_mm + second_mm);
    case PH_LAW_MURRAY:
        return power_law(3, first_mm, second_mm);
    case PH_LAW_GIVEN:
        break;
    }
    return NAN;
}

const char *ph_law_name(ph_branch_law law)
{
    switch (law) {
    case PH_LAW_HK:
        return "huo_kassab";
    case PH_LAW_FINET:
        return "finet";
    case PH_LAW_MURRAY:
        return "murray";
    case PH_LAW_GIVEN:
        break;
    }
    return "given";
}
