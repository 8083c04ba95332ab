#!/usr/bin/env python3
"""Recordings of a spindle with the once-per-turn part found by SciPy and NumPy: reference/fixtures/once_per_turn.json.

Usage: python3 reference/scripts/once_per_turn_scipy.py > reference/fixtures/once_per_turn.json

Without a mark: nonlinear least squares (scipy.optimize.least_squares) of offset, two frequencies, cosines and sines, each sample
weighted by Hann's window: the line near twice the speed need not be the wheel's and has a frequency of its own; the amplitude at
exactly twice the speed is then fitted with the speed held. With a mark: the wheel's angle by numpy.interp between the mark's passages (scipy.signal.find_peaks is not
needed: the passages are where the channel crosses half height, found by numpy), then linear least squares (numpy.linalg.lstsq)
with the same weights. Samples are rounded to what the file holds before anything is computed from them.
"""
import json
import math

import numpy as np
import scipy
from scipy.optimize import least_squares


def made(name, rate, seconds, rpm, amplitude, phase_deg, others, noise, wander=0.0, tach=False, seed=1):
    rng = np.random.default_rng(seed)
    n = int(rate * seconds)
    t = np.arange(n) / rate
    f = rpm / 60.0
    theta = 2 * np.pi * f * t + wander * np.sin(2 * np.pi * 0.7 * t)
    x = amplitude * np.cos(theta + math.radians(phase_deg)) + 0.3
    for order, a in others:
        x = x + a * np.cos(order * theta + 0.4 * order)
    x = np.round(x + noise * rng.standard_normal(n), 4)
    case = {"name": name, "rate_hz": rate, "speed_rpm": round(rpm * 1.01), "signal": x.tolist()}
    window = np.sin(np.pi * np.arange(n) / n) ** 2
    if tach:
        turn = np.mod(theta + 0.3, 2 * np.pi) / (2 * np.pi)
        pulse = np.round(np.exp(-0.5 * ((turn - 0.5) / 0.05) ** 2), 4)
        case["tach"] = pulse.tolist()
        low, high = pulse.min(), pulse.max()
        level, rearm = low + 0.5 * (high - low), low + 0.25 * (high - low)
        passages, armed = [], False
        for i in range(n - 1):
            armed = armed or pulse[i] <= rearm
            if armed and pulse[i] < level <= pulse[i + 1]:
                passages.append(i + (level - pulse[i]) / (pulse[i + 1] - pulse[i]))
                armed = False
        passages = np.array(passages)
        k = np.arange(math.ceil(passages[0]), math.ceil(passages[-1]))
        angle = 2 * np.pi * np.interp(k, passages, np.arange(len(passages)))
        window = np.sin(np.pi * np.arange(len(k)) / len(k)) ** 2
        w = np.sqrt(window)
        columns = np.column_stack([np.ones(len(k)), np.cos(angle), np.sin(angle), np.cos(2 * angle), np.sin(2 * angle)])
        a = np.linalg.lstsq(columns * w[:, None], x[k] * w, rcond=None)[0]
        slope = np.polyfit(passages, np.arange(len(passages)), 1)[0]
        case["expected"] = {
            "amplitude": math.hypot(a[1], a[2]),
            "phase_deg": math.degrees(math.atan2(-a[2], a[1])),
            "second": math.hypot(a[3], a[4]),
            "speed_rpm": 60 * slope * rate,
        }
    else:
        w = np.sqrt(window)

        def columns(f, g):
            return np.column_stack([np.ones(n)] + [h(2 * np.pi * v * t) for v in (f, g) for h in (np.cos, np.sin)])

        def rest(p):
            c = columns(*p) * w[:, None]
            return c @ np.linalg.lstsq(c, x * w, rcond=None)[0] - x * w

        f = least_squares(rest, [f, 2 * f], x_scale=[1e-3, 1e-3], xtol=1e-15, ftol=1e-15, gtol=1e-15).x[0]
        a = np.linalg.lstsq(columns(f, 2 * f) * w[:, None], x * w, rcond=None)[0]
        case["expected"] = {"amplitude": math.hypot(a[1], a[2]), "second": math.hypot(a[3], a[4]), "speed_rpm": 60 * f}
    return case


cases = [
    made("clean, between two lines", 800.0, 2.0, 2860.7, 1.7, 35.0, [], 0.02, seed=3),
    made("second multiple larger", 1000.0, 2.0, 1450.3, 0.6, -70.0, [(2, 1.9), (3, 0.4)], 0.1, seed=4),
    made("with a mark, speed wanders", 1000.0, 2.0, 1447.0, 0.8, 110.0, [(2, 0.5)], 0.1, wander=0.6, tach=True, seed=5),
]
print(json.dumps({"made_by": f"SciPy {scipy.__version__}, NumPy {np.__version__}", "cases": cases}))
