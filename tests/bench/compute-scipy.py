"""The steps of analyseRecording by NumPy and SciPy, to measure its speed against.

Run by tests/bench/compute.ts: compute-scipy.py FILE SAMPLES GRAVITY_NM THIGH_RAISE_DEG RUNS, FILE holding time, torque, angle
and velocity as float64, one channel after the other. Prints seconds (best of RUNS) and the mean peak torque as JSON.
Vectorised wherever NumPy can: no loop over samples, one over repetitions. It leaves out what the analysis says in words.
"""
import json
import math
import sys
import time

import numpy as np
from scipy import signal

path, samples, gravity, raised, runs = sys.argv[1], int(sys.argv[2]), float(sys.argv[3]), float(sys.argv[4]), int(sys.argv[5])
t, torque, angle, velocity = np.fromfile(path).reshape(4, samples)
RATE, SET = 1000.0, 60.0


def lowpass(cutoff):
    correction = (2 ** 0.5 - 1) ** 0.25
    return signal.butter(2, 2 / math.pi * math.atan(math.tan(math.pi * cutoff / RATE) / correction))


def smooth(x, cutoff):
    b, a = lowpass(cutoff)
    return signal.filtfilt(b, a, x)


def longest_run(mask):
    edges = np.flatnonzero(np.diff(np.concatenate(([0], mask.astype(np.int8), [0]))))
    starts, ends = edges[::2], edges[1::2]
    if len(starts) == 0:
        return None
    i = np.argmax(ends - starts)
    return starts[i], ends[i]


def analyse():
    # Time base, gaps, missing values, saturation.
    steps = np.diff(t)
    assert (steps > 0).all() and np.abs((t - t[0]) * RATE - np.arange(samples)).max() < 0.01
    assert all(np.isfinite(x).all() for x in (torque, angle, velocity))
    np.count_nonzero(np.abs(torque) == np.abs(torque).max())
    np.abs(np.diff(torque))

    # Kinematics, and whether angle and velocity agree; gravity; torque.
    smooth_angle = smooth(angle, 24)
    derived = np.gradient(smooth_angle, 1 / RATE)
    np.dot(velocity, derived) / np.dot(derived, derived)
    smooth_velocity = -smooth(velocity, 24)
    muscle = torque + gravity * np.cos(np.radians(angle - raised))
    smooth_torque = smooth(muscle, 12)
    moving = np.abs(smooth_velocity) > SET / 2
    np.mean(smooth_torque[moving] * smooth_velocity[moving])

    peaks = []
    for sign in (1, -1):
        run = np.diff(np.concatenate(([0], (sign * smooth_velocity > SET / 2).astype(np.int8), [0])))
        for start, end in zip(np.flatnonzero(run == 1), np.flatnonzero(run == -1)):
            v = sign * smooth_velocity[start:end]
            band = longest_run(np.abs(v - SET) <= 0.05 * SET)
            if band is None or band[1] - band[0] < 100:
                continue
            first, last = start + band[0], start + band[1]
            level = v[band[0]:band[1]].mean()
            settled = np.flatnonzero(np.abs(v[band[0]:band[1]] - level) <= 0.02 * SET)
            first, last = first + settled[0] + 10, first + settled[-1] - 10
            own = sign * smooth(muscle[first:last], 12)
            at = smooth_angle[first:last]
            top = np.argmax(own)
            near = own > 0.9 * own[top]
            c2, c1, _ = np.polyfit(at[near] - at[top], own[near], 2)
            work = np.trapz(own, -sign * np.radians(at))
            power = work / ((last - first) / RATE)
            (own * v[first - start:last - start]).max()
            np.trapz(own, dx=1 / RATE)
            order = at if at[0] < at[-1] else at[::-1]
            np.interp((30, 60), order, own if at[0] < at[-1] else own[::-1])
            peaks.append((own[top], at[top] - c1 / (2 * c2), work, power))
    return np.mean([p[0] for p in peaks]), len(peaks)


def best(step):
    step()
    seconds = []
    for _ in range(runs):
        begin = time.perf_counter()
        step()
        seconds.append(time.perf_counter() - begin)
    return min(seconds)


mean_peak, repetitions = analyse()
print(json.dumps({"analyseS": best(analyse), "filterS": best(lambda: smooth(torque, 12)),
                  "meanPeakNm": mean_peak, "repetitions": repetitions}))
