"""Axis offset by scipy.optimize.least_squares. Run: /usr/bin/python3 tests/golden/axis-offset-scipy.py > tests/golden/axis-offset-scipy.json"""
import json

import numpy as np
from scipy.optimize import least_squares


def pad_position(dx, dy, R, start, beta):
    e = np.arcsin((dx * np.sin(beta) + dy * np.cos(beta)) / R)
    return R * np.cos(e) - (dx * np.cos(beta) - dy * np.sin(beta)) - start


def fit(angles, positions, sd, distance, start):
    beta = np.radians(angles)

    def residuals(p):
        return pad_position(p[0], p[1], distance if distance else p[2], start if start is not None else p[2], beta) - positions

    first = [0, 0] + ([np.mean(positions)] if distance is None else [300 - np.mean(positions)] if start is None else [])
    r = least_squares(residuals, first, jac='3-point', xtol=1e-15, ftol=1e-15, gtol=1e-15, x_scale='jac')
    variance = np.diag(np.linalg.inv(r.jac.T @ r.jac))
    return {
        'readings': [{'kneeAngleDeg': float(a), 'padPositionMm': float(p)} for a, p in zip(angles, positions)],
        'readingErrorMm': sd,
        'distanceMm': distance,
        'scaleStartMm': start,
        'forwardMm': r.x[0],
        'upMm': r.x[1],
        'forwardSdMm': sd * variance[0] ** 0.5,
        'upSdMm': sd * variance[1] ** 0.5,
    }


rng = np.random.default_rng(20261125)
cases = [fit([90, 45, 0], [212.0, 210.0, 211.0], 1, 300, None)]
for angles in ([90, 45, 0], [95, 70, 45, 25, 5], [90, 60, 30, 0]):
    for distance, start in ((300, None), (300, 0), (None, 0)):
        truth = rng.uniform(-25, 25, 2)
        clean = pad_position(truth[0], truth[1], 300, 85 if start is None else 0, np.radians(angles))
        noisy = np.round(clean + rng.normal(0, 1, len(angles)), 1)
        cases.append(fit(angles, noisy, 1.5, distance, start))
print(json.dumps(cases, indent=1))
