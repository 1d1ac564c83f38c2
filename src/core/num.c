/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/num.h"

#include <gsl/gsl_cdf.h>

double bk_normal_cdf(double x)
{
    return gsl_cdf_ugaussian_P(x);
}

double bk_normal_quantile(double p)
{
    return gsl_cdf_ugaussian_Pinv(p);
}
