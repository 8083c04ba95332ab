"""Times that a rotor takes to creep from rest, by SciPy's DOP853 with event location.

J psi'' = td - U sin(psi) - tc sign(psi'), torques told as unbalances (g mm), J = I/g (g mm s^2).
Turned end for end, rotor angles run clockwise as the operator sees them.

    python3 reference/scripts/creep_times.py > reference/fixtures/creep_times.json
"""

import json
import sys

import numpy as np
import scipy
from scipy.integrate import solve_ivp

G = 9.80665


def creep(j, residual, drift, friction, reversed_, bottom_deg, turned_deg):
    size = np.hypot(*residual)
    turn = -1.0 if reversed_ else 1.0
    at = turn * (np.arctan2(residual[1], residual[0]) - np.radians(bottom_deg))
    net = drift - size * np.sin(at)
    if abs(net) <= friction:
        return None
    sense = np.sign(net)

    def motion(_, y):
        return [y[1], (drift - size * np.sin(at + y[0]) - sense * friction) / j]

    def there(_, y):
        return sense * y[0] - np.radians(turned_deg)

    there.terminal = True
    got = solve_ivp(motion, (0, 2000), [0, 0], method="DOP853", events=there, rtol=1e-12, atol=1e-14)
    return (float(got.t_events[0][0]), int(sense)) if len(got.t_events[0]) else None


def stand(inertia, residual, drift, friction, turned):
    j = inertia / G * 1e6
    rows = []
    for reversed_ in (False, True):
        for bottom in range(0, 360, 45):
            got = creep(j, residual, drift, friction, reversed_, bottom, turned)
            if got:
                rows.append({"reversed": reversed_, "bottom_deg": bottom, "turned_deg": turned, "time_s": got[0], "sense": got[1]})
    return {"inertia_kg_m2": inertia, "residual_g_mm": residual, "drift_g_mm": drift, "friction_g_mm": friction, "creeps": rows}


json.dump(
    {
        "made_by": f"SciPy {scipy.__version__} solve_ivp DOP853, reference/scripts/creep_times.py",
        "stands": [
            stand(0.0082, [0.3, -0.2], 0.8, 0.0, 10.0),
            stand(0.0082, [-0.5, 0.9], -0.25, 0.0, 20.0),
            stand(0.0240, [9.0, 4.0], 1.5, 3.0, 8.0),
        ],
    },
    sys.stdout,
    indent=1,
)
