#!/usr/bin/env python3
"""The same swing-log fit with SciPy, for its time: run beside `cargo bench -p stillwheel-physics --bench fit_log`.

Usage: python3 reference/scripts/fit_log_scipy.py [directory of the logs]

Shooting on the exact equation (sign smoothed by tanh) with solve_ivp (LSODA) and least_squares (soft-L1, numerical
Jacobian): once over eight starts (nothing is known), once from a start 3 % off the truth. Each time over windows of 12 s, 30 s
and all. Noise for the loss is the nominal one.
"""
import csv
import json
import math
import sys
import time
from pathlib import Path

import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.optimize import least_squares


def load(path):
    with open(path) as f:
        rows = [[float(v) for v in r] for r in list(csv.reader(f))[1:]]
    t, deg = np.array(rows).T
    phi = np.radians(deg)
    # Outliers: far from the median of five on the circle; then unwrap.
    n = len(phi)
    off = np.array([abs(np.angle(np.exp(1j * (phi[i] - phi[max(i - 1, 0)]
           - np.median(np.angle(np.exp(1j * (phi[max(i - 3, 0):i + 4] - phi[max(i - 1, 0)])))))))) for i in range(n)])
    good = off < 10 * 1.4826 * np.median(off) + 0.15
    return t[good] - t[0], np.unwrap(phi[good])


def model(p, t):
    a, b, c, d, tc, td, phi0, om0 = p

    def rhs(_, y):
        w = y[1]
        return [w, -a * math.sin(y[0]) - b * math.cos(y[0]) - c * w - d * w * abs(w) - tc * math.tanh(w / 3e-4) + td]

    r = solve_ivp(rhs, (0.0, t[-1]), [phi0, om0], t_eval=t, method="LSODA", rtol=1e-7, atol=1e-9)
    return r.y[0] if r.y.shape[1] == len(t) else np.full(len(t), 1e3)


def fit(start, t, y, noise, dry, prior):
    free = [0, 1, 2, 3] + ([4] if dry else []) + [5, 6, 7]
    low = np.array([-np.inf, -np.inf, 0, 0, 0, -np.inf, -np.inf, -np.inf])
    p = np.array(start, float)
    p[2:5] = np.maximum(p[2:5], 1e-6)
    if not dry:
        p[4] = 0.0
    cost = np.inf
    for end in (12.0, 30.0, t[-1]):
        use = t <= end

        def residuals(x):
            q = p.copy()
            q[free] = x
            return np.append((model(q, t[use]) - y[use]) / noise, q[5] / prior)

        scale = np.maximum(np.abs(p), [1e-2, 1e-2, 1e-3, 1e-2, 1e-4, 1e-4, 0.1, 0.01])
        r = least_squares(residuals, p[free], bounds=(low[free], np.inf), x_scale=scale[free], loss="soft_l1", f_scale=2.0, max_nfev=40)
        p[free] = r.x
        cost = r.cost
    return p, cost


def main():
    where = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent.parent / "logs"
    print(f"scipy {scipy.__version__}, numpy {np.__version__}")
    for case in json.loads((where / "expected.json").read_text())["logs"]:
        truth, given = case["truth"], case["given"]
        j, th = truth["J_gmm_s2"], math.radians(truth["theta_deg"])
        t, y = load(where / case["file"])
        noise, prior, dry = math.radians(given["nominal_noise_deg"]), given["drift_prior_sd_gmm"] / j, given["dry_friction_possible"]
        k = np.polyfit(t[:20], y[:20], 1)
        exact = [truth["U_gmm"] / j * math.cos(th), truth["U_gmm"] / j * math.sin(th), truth["c_gmm_s"] / j, truth["d_gmm_s2"] / j,
                 truth["dry_friction_gmm"] / j, truth["drift_gmm"] / j, y[0], k[0]]
        begun = time.perf_counter()
        p, _ = fit(np.array(exact) * 1.03, t, y, noise, dry, prior)
        near = time.perf_counter() - begun
        begun = time.perf_counter()
        best = (None, np.inf)
        for period in (18.0, 30.0):
            for i in range(4):
                w2, a0 = (2 * math.pi / period) ** 2, math.pi / 2 * i + 0.3
                trial = fit([w2 * math.cos(a0), w2 * math.sin(a0), 1e-3, 1e-2, 1e-4, 0.0, y[0], k[0]], t, y, noise, dry, prior)
                best = min(best, trial, key=lambda b: b[1])
        many = time.perf_counter() - begun
        q = best[0]
        print(f"{case['file']}: start 3 % off {near * 1e3:.0f} ms (U {math.hypot(p[0], p[1]) * j:.4f}); "
              f"eight starts {many * 1e3:.0f} ms (U {math.hypot(q[0], q[1]) * j:.4f}, truth {truth['U_gmm']})")


if __name__ == "__main__":
    main()
