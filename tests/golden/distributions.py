"""Golden values of normal, t, F and chi-square from scipy (run: /usr/bin/python3 tests/golden/distributions.py).

Scipy 1.10's t and F quantiles are good to about 1e-9 only (seen against 30-digit arithmetic), so each quantile is polished by
Newton steps on scipy's own distribution function of the nearer tail, which is good to about 1e-14.
"""
import json
import os

import scipy
from scipy import stats

PROBABILITIES = [1e-8, 1e-4, 0.005, 0.025, 0.05, 0.1, 0.3, 0.6, 0.9, 0.95, 0.975, 0.995, 0.9999]
T_DEGREES = [1, 2, 3, 4, 4.5, 9, 17, 24, 100, 10000]
CHI_DEGREES = [1, 2, 3, 5, 9, 10, 17, 30, 100, 10000]
F_DEGREES = [(1, 1), (1, 10), (2, 3), (5, 15), (5, 3.37), (15, 5), (18, 5), (40, 40), (3, 1000), (500, 7)]
X = [0.05, 0.3, 1.0, 1.9, 4.2, 11.5]



def quantile(distribution, p, *degrees):
    x = distribution.ppf(p, *degrees)
    for _ in range(4):
        error = distribution.cdf(x, *degrees) - p if p <= 0.5 else (1 - p) - distribution.sf(x, *degrees)
        x = x - error / distribution.pdf(x, *degrees)
    return float(x)


golden = {
    "scipy": scipy.__version__,
    "normal": {
        "quantiles": [[p, quantile(stats.norm, p)] for p in PROBABILITIES],
        "cdf": [[x, float(stats.norm.cdf(x))] for x in [-v for v in X] + X],
        "twoSided": [[x, float(2 * stats.norm.sf(x))] for x in X],
    },
    "t": {
        "quantiles": [[p, d, quantile(stats.t, p, d)] for p in PROBABILITIES for d in T_DEGREES],
        "cdf": [[x, d, float(stats.t.cdf(x, d))] for x in [-v for v in X] + X for d in T_DEGREES],
        "twoSided": [[x, d, float(2 * stats.t.sf(x, d))] for x in X for d in T_DEGREES],
    },
    "chiSquare": {
        "quantiles": [[p, d, quantile(stats.chi2, p, d)] for p in PROBABILITIES for d in CHI_DEGREES],
        "cdf": [[x * d, d, float(stats.chi2.cdf(x * d, d))] for x in [0.1, 0.5, 0.9, 1, 1.1, 2, 4] for d in CHI_DEGREES],
    },
    "f": {
        "quantiles": [[p, a, b, quantile(stats.f, p, a, b)] for p in PROBABILITIES for a, b in F_DEGREES],
        "cdf": [[x, a, b, float(stats.f.cdf(x, a, b))] for x in X for a, b in F_DEGREES],
    },
}
path = os.path.join(os.path.dirname(os.path.abspath(__file__)), "distributions.json")
with open(path, "w") as file:
    json.dump(golden, file, indent=0)
    file.write("\n")
