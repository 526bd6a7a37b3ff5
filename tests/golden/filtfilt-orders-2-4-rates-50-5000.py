"""Zero-phase Butterworth low-pass by SciPy, to hold the filter of this project against.

Run: /usr/bin/python3 tests/golden/filtfilt-orders-2-4-rates-50-5000.py
Writes the JSON of the same name. scipy.signal.butter and scipy.signal.filtfilt with their defaults (odd padding,
padlen 3 (order + 1)); the cutoff of each pass is corrected for two passes (Winter 2009; Robertson et al. 2014).
"""
import json
import math
import pathlib

import numpy as np
import scipy
from scipy import signal

rng = np.random.default_rng(20261125)
cases = []
for order in (2, 4):
    shortest = 3 * (order + 1) + 1
    for rate, cutoff in ((50, 6), (100, 10), (500, 12), (1000, 12), (5000, 20)):
        correction = (2 ** (1 / 2) - 1) ** (1 / (2 * order))
        design = rate / math.pi * math.atan(math.tan(math.pi * cutoff / rate) / correction)
        b, a = signal.butter(order, design / (rate / 2))
        for length in (shortest, shortest + 1, 60, 151):
            t = np.arange(length) / length
            x = np.round(120 * np.sin(2 * np.pi * 1.3 * t + 0.4) - 30 * t + rng.normal(0, 3, length), 3)
            y = signal.filtfilt(b, a, x)
            cases.append({"order": order, "sampleRateHz": rate, "cutoffHz": cutoff, "designCutoffHz": design,
                          "b": b.tolist(), "a": a.tolist(), "input": x.tolist(), "output": y.tolist()})

target = pathlib.Path(__file__).with_suffix(".json")
target.write_text(json.dumps({"software": f"scipy {scipy.__version__}", "cases": cases}) + "\n")
