"""Golden intraclass correlations with intervals (run: /usr/bin/python3 tests/golden/intraclass-correlation.py).

Second route: mean squares by sums of squares of an analysis of variance in numpy, intervals written from the case formulas of
McGraw & Wong 1996 (Psychol Methods 1:30-46, tables 4 and 7), F from scipy. Data: Shrout & Fleiss 1979 table 2, and random tables
with and without a trial effect and with many and few subjects.
"""
import json
import os

import numpy as np
import scipy
from scipy.stats import f


def icc(x, confidence):
    x = np.asarray(x, float)
    n, k = x.shape
    a = 1 - confidence
    total = ((x - x.mean()) ** 2).sum()
    ss_rows = k * ((x.mean(axis=1) - x.mean()) ** 2).sum()
    ss_columns = n * ((x.mean(axis=0) - x.mean()) ** 2).sum()
    ms_r = ss_rows / (n - 1)
    ms_c = ss_columns / (k - 1)
    ms_e = (total - ss_rows - ss_columns) / ((n - 1) * (k - 1))
    ms_w = (total - ss_rows) / (n * (k - 1))
    one = ms_r / ms_w
    one_l, one_u = one / f.ppf(1 - a / 2, n - 1, n * (k - 1)), one * f.ppf(1 - a / 2, n * (k - 1), n - 1)
    two = ms_r / ms_e
    two_l, two_u = two / f.ppf(1 - a / 2, n - 1, (n - 1) * (k - 1)), two * f.ppf(1 - a / 2, (n - 1) * (k - 1), n - 1)
    icc21 = (ms_r - ms_e) / (ms_r + (k - 1) * ms_e + k / n * (ms_c - ms_e))
    aa = k * icc21 / (n * (1 - icc21))
    bb = 1 + k * icc21 * (n - 1) / (n * (1 - icc21))
    v = (aa * ms_c + bb * ms_e) ** 2 / ((aa * ms_c) ** 2 / (k - 1) + (bb * ms_e) ** 2 / ((n - 1) * (k - 1)))
    fl, fu = f.ppf(1 - a / 2, n - 1, v), f.ppf(1 - a / 2, v, n - 1)
    l21 = n * (ms_r - fl * ms_e) / (fl * (k * ms_c + (k * n - k - n) * ms_e) + n * ms_r)
    u21 = n * (fu * ms_r - ms_e) / (k * ms_c + (k * n - k - n) * ms_e + n * fu * ms_r)
    l2k = n * (ms_r - fl * ms_e) / (fl * (ms_c - ms_e) + n * ms_r)
    u2k = n * (fu * ms_r - ms_e) / (ms_c - ms_e + n * fu * ms_r)
    return {
        "ICC(1,1)": [(ms_r - ms_w) / (ms_r + (k - 1) * ms_w), (one_l - 1) / (one_l + k - 1), (one_u - 1) / (one_u + k - 1)],
        "ICC(2,1)": [icc21, l21, u21],
        "ICC(3,1)": [(ms_r - ms_e) / (ms_r + (k - 1) * ms_e), (two_l - 1) / (two_l + k - 1), (two_u - 1) / (two_u + k - 1)],
        "ICC(1,k)": [(ms_r - ms_w) / ms_r, 1 - 1 / one_l, 1 - 1 / one_u],
        "ICC(2,k)": [(ms_r - ms_e) / (ms_r + (ms_c - ms_e) / n), l2k, u2k],
        "ICC(3,k)": [(ms_r - ms_e) / ms_r, 1 - 1 / two_l, 1 - 1 / two_u],
    }


random = np.random.default_rng(20261125)


def table(n, k, shift):
    subjects = random.normal(180, 35, (n, 1))
    trials = shift * np.arange(k)[None, :]
    return np.round(subjects + trials + random.normal(0, 9, (n, k)), 1).tolist()


tables = {
    "shrout-fleiss-1979": [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]],
    "30-subjects-2-trials": table(30, 2, 0),
    "12-subjects-3-trials-learning": table(12, 3, 8),
    "5-subjects-2-trials": table(5, 2, 4),
}
cases = [
    {"name": name, "confidence": confidence, "table": data, "forms": {k: [float(v) for v in vs] for k, vs in icc(data, confidence).items()}}
    for name, data in tables.items()
    for confidence in (0.9, 0.95)
]
path = os.path.join(os.path.dirname(os.path.abspath(__file__)), "intraclass-correlation.json")
with open(path, "w") as file:
    json.dump({"scipy": scipy.__version__, "cases": cases}, file, indent=0)
    file.write("\n")
