"""Stepped arbors on two supports by beam finite elements (Hermite cubics, NumPy), for the check of crates/physics/src/stand/arbor.rs.

    python3 reference/scripts/stepped_arbor.py > reference/fixtures/stepped_arbor.json

Nodes stand on every step, load and support and 12 between; a uniform load enters by its consistent nodal forces, so nodal values are exact
for Euler-Bernoulli beams whatever the mesh (Hughes, The Finite Element Method, sec. 1.16).
"""

import json
import sys

import numpy as np

G = 9.80665


def solve(arbor):
    ends = np.cumsum([0.0] + [s[0] for s in arbor["steps"]])
    marks = sorted({*ends, *arbor["supports_mm"], *(l[0] for l in arbor["loads"]), *arbor["at_mm"]})
    x = np.unique(np.concatenate([np.linspace(a, b, 13) for a, b in zip(marks, marks[1:])]))
    n = len(x)
    k, f = np.zeros((2 * n, 2 * n)), np.zeros(2 * n)
    for i, (a, b) in enumerate(zip(x, x[1:])):
        _, outer, inner = arbor["steps"][min(np.searchsorted(ends, 0.5 * (a + b)) - 1, len(arbor["steps"]) - 1)]
        ei = arbor["modulus_gpa"] * 1e3 * np.pi / 64 * (outer**4 - inner**4)
        q = arbor["density_g_cm3"] * 1e-6 * G * np.pi / 4 * (outer**2 - inner**2)
        l = b - a
        ke = ei / l**3 * np.array([[12, 6 * l, -12, 6 * l], [6 * l, 4 * l * l, -6 * l, 2 * l * l], [-12, -6 * l, 12, -6 * l], [6 * l, 2 * l * l, -6 * l, 4 * l * l]])
        at = slice(2 * i, 2 * i + 4)
        k[at, at] += ke
        f[at] += q * l / 2 * np.array([1, l / 6, 1, -l / 6])
    node = lambda p: int(np.argmin(np.abs(x - p)))
    for at, force in arbor["loads"]:
        f[2 * node(at)] += force
    fixed = [2 * node(p) for p in arbor["supports_mm"]]
    free = [d for d in range(2 * n) if d not in fixed]
    u = np.zeros(2 * n)
    u[free] = np.linalg.solve(k[np.ix_(free, free)], f[free])
    reactions = (f - k @ u)[fixed]
    places = [{"at_mm": p, "fall_um": u[2 * node(p)] * 1e3, "slope_urad": u[2 * node(p) + 1] * 1e6} for p in arbor["at_mm"]]
    return {**arbor, "reactions_n": list(reactions), "places": places}


ARBORS = [
    dict(
        steps=[(60.0, 20.0, 0.0), (12.0, 34.0, 0.0), (48.0, 25.0, 6.0), (60.0, 20.0, 0.0), (30.0, 14.0, 5.0)],
        modulus_gpa=205.0, density_g_cm3=7.81, supports_mm=[25.0, 165.0], loads=[(84.0, 24.0), (110.0, 6.0), (205.0, 9.0)],
        at_mm=[0.0, 25.0, 84.0, 100.0, 165.0, 210.0],
    ),
    dict(
        steps=[(80.0, 25.0, 0.0), (15.0, 40.0, 0.0), (70.0, 30.0, 10.0)],
        modulus_gpa=210.0, density_g_cm3=7.85, supports_mm=[12.0, 92.0], loads=[(140.0, 60.0)],
        at_mm=[0.0, 12.0, 50.0, 92.0, 140.0, 165.0],
    ),
]

json.dump({"made_by": f"beam finite elements, NumPy {np.__version__}, reference/scripts/stepped_arbor.py", "arbors": [solve(a) for a in ARBORS]}, sys.stdout, indent=1)
