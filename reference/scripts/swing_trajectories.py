#!/usr/bin/env python3
"""Trajectories of the rotor on its stand by SciPy's DOP853, for the test of our integrator.

Usage: python3 reference/scripts/swing_trajectories.py > reference/swing-trajectories.json

Coulomb friction is exact: each stretch of one sense of turning is integrated by itself up to the event omega = 0; then it
sticks, or starts the other way. Output times lie off any step; the solver is stopped and started at each of them, so that
its own interpolation plays no part. Units: g mm, g mm s2, s, rad.
"""
import json
import math

import numpy
import scipy
from scipy.integrate import solve_ivp

CASES = [
    # name, u, theta, j, c, d, tc, td, phi0, omega0
    ("no losses, swing of 170 degrees", 90.0, 0.0, 2100.0, 0.0, 0.0, 0.0, 0.0, math.radians(170), 0.0),
    ("air saddle with drift", 90.0, 5.7596, 2100.0, 10.4, 40.0, 0.0, 0.7, 1.658, 0.0),
    ("small rotor, large drift", 12.0, 0.8378, 420.0, 2.84, 5.0, 0.0, -1.5, 0.698, 0.0),
    ("dry friction until it sticks", 60.0, 3.4907, 1700.0, 6.4, 20.0, 5.0, 0.8, -2.094, 0.0),
    ("full turns, then swings", 45.0, 1.9199, 800.0, 14.0, 30.0, 0.0, 0.4, 0.0, 1.5),
    ("full turns backwards, dry friction", 45.0, 1.9199, 800.0, 4.0, 10.0, 3.0, 0.4, 0.0, -2.5),
    ("creeps: drift larger than the unbalance", 3.0, 0.5, 800.0, 4.0, 10.0, 0.5, 5.0, 0.3, 0.0),
    ("sticks at once", 60.0, 1.0, 1700.0, 6.4, 20.0, 5.0, 0.0, -0.95, 0.0),
]
TIMES = [0.4973 * i + 0.013 * math.sin(i) for i in range(1, 181)]
TOLERANCE = dict(method="DOP853", rtol=1e-13, atol=1e-15)


def trajectory(u, theta, j, c, d, tc, td, phi0, omega0):
    """Angle at each of TIMES."""

    def push(phi):
        return td - u * math.sin(theta + phi)

    def way_from(phi, omega):
        if omega != 0.0:
            return math.copysign(1.0, omega)
        return 0.0 if abs(push(phi)) <= tc else math.copysign(1.0, push(phi))

    t, phi, omega = 0.0, phi0, omega0
    way = way_from(phi, omega)
    out = []
    for end in TIMES:
        while t < end and way != 0.0:
            s = way

            def rhs(_, y, s=s):
                return [y[1], (push(y[0]) - c * y[1] - d * s * y[1] ** 2 - s * tc) / j]

            def reversal(_, y, s=s):
                return s * y[1]

            reversal.terminal = True
            reversal.direction = -1
            r = solve_ivp(rhs, (t, end), [phi, omega], events=reversal, **TOLERANCE)
            t, (phi, omega) = float(r.t[-1]), (float(v) for v in r.y[:, -1])
            if r.status == 1:
                # The event is found on the interpolant; land on it by Newton with the solver itself.
                t0, y0 = float(r.t[-2]), r.y[:, -2]
                for _ in range(4):
                    t -= omega / rhs(t, [phi, omega])[1]
                    q = solve_ivp(rhs, (t0, t), y0, **TOLERANCE)
                    phi, omega = (float(v) for v in q.y[:, -1])
                omega = 0.0
                way = way_from(phi, omega)
        t = end
        out.append(phi)
    return out


def main():
    keys = ("u_g_mm", "theta_rad", "j_g_mm_s2", "c_g_mm_s", "d_g_mm_s2", "tc_g_mm", "td_g_mm", "phi0_rad", "omega0_rad_s")
    cases = [{"name": name, **dict(zip(keys, values)), "phi_rad": trajectory(*values)} for name, *values in CASES]
    source = f"scipy {scipy.__version__} DOP853, rtol 1e-13, atol 1e-15, numpy {numpy.__version__}"
    print(json.dumps({"computed_by": source, "script": "reference/scripts/swing_trajectories.py", "times_s": TIMES, "cases": cases}, indent=0))


if __name__ == "__main__":
    main()
