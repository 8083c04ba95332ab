#!/usr/bin/env python3
"""A ball on a flat and a plate on three feet by general-purpose packages, for crates/physics/src/making/{hertz.rs, plate}.

    python3 reference/scripts/contact_plate.py > reference/fixtures/contact_plate.json

Needs SciPy and scikit-fem 12.0.2 (pip).

Ball: half-spaces under the pressure p0*sqrt(1 - r^2/a^2), their surface displacement by
elliptic integrals and quadrature (Johnson, Contact Mechanics, eq. 3.42), with the spot's radius found by root finding so that the surfaces
match the ball at its middle and its rim: it does not use a^3 = 3FR/4E*.

Plate: Kirchhoff's equation by Argyris triangles (quintic, continuous slopes), free edges, the fall held at a mesh vertex under each foot, a
point force at a vertex under each pillar, own weight as a uniform load.
"""
import json
import sys

import numpy as np
import scipy
import skfem
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import ellipk
from skfem import Basis, BilinearForm, ElementTriArgyris, LinearForm, MeshTri, asm, condense, solve
from skfem.helpers import dd, ddot, eye, trace

G = 9.80665


def by_quadrature(force, radius, modulus):
    def sinks(r, a, p0):
        p = lambda s: p0 * np.sqrt(max(1 - (s / a) ** 2, 0.0))
        inner = quad(lambda s: p(s) * s / r * ellipk((s / r) ** 2), 0, r, limit=400)[0] if r > 0 else 0.0
        outer = quad(lambda s: p(s) * ellipk((r / s) ** 2), r, a, limit=400)[0] if r < a else 0.0
        return 4 / (np.pi * modulus) * (inner + outer)

    def lack(a):
        p0 = 3 * force / (2 * np.pi * a * a)
        return sinks(0.0, a, p0) - sinks(a * (1 - 1e-9), a, p0) - a * a / (2 * radius)

    a = brentq(lack, 1e-3, 5.0, xtol=1e-10)
    p0 = 3 * force / (2 * np.pi * a * a)
    return {"spot_radius_mm": a, "pressure_mpa": p0, "approach_um": 1e3 * sinks(0.0, a, p0)}


def contact(force, radius, bodies):
    (e1, n1), (e2, n2) = bodies
    modulus = 1 / ((1 - n1**2) / e1 + (1 - n2**2) / e2)
    return {"force_n": force, "radius_mm": radius, "bodies_mpa": bodies, **by_quadrature(force, radius, modulus)}


@BilinearForm
def bending(u, v, w):
    t = lambda z: (1 - w["nu"]) * dd(z) + w["nu"] * eye(trace(dd(z)), 2)
    return ddot(t(u), dd(v))


@LinearForm
def uniform(v, w):
    return v


def lines(length, marks, n):
    """About n even steps over the length, with the marks among the lines."""
    ends = sorted({0.0, length, *marks})
    out = [np.linspace(a, b, max(2, int(round(n * (b - a) / length)) + 1)) for a, b in zip(ends, ends[1:])]
    return np.unique(np.concatenate(out))


def plate(case, n=24):
    length, width, h = case["length_mm"], case["width_mm"], case["thickness_mm"]
    points = case["feet_mm"] + [p["at_mm"] for p in case["loads"]]
    mesh = MeshTri.init_tensor(lines(length, [p[0] for p in points], n), lines(width, [p[1] for p in points], max(8, int(n * width / length))))
    basis = Basis(mesh, ElementTriArgyris(), intorder=8)
    d = case["young_gpa"] * 1e3 * h**3 / (12 * (1 - case["poisson"] ** 2))
    k = asm(bending, basis, nu=case["poisson"]) * d
    f = asm(uniform, basis) * case["density_kg_m3"] * 1e-9 * G * h
    vertex = lambda at: int(np.argmin(np.hypot(mesh.p[0] - at[0], mesh.p[1] - at[1])))
    # Nodal unknowns of a vertex: u, u_x, u_y, u_xx, u_xy, u_yy.
    dof = lambda at, which: basis.nodal_dofs[which, vertex(at)]
    for load in case["loads"]:
        f[dof(load["at_mm"], 0)] += load["force_n"]
    held = np.array([dof(at, 0) for at in case["feet_mm"]])
    u = solve(*condense(k, f, D=held))
    places = [{"at_mm": p["at_mm"], "fall_um": 1e3 * u[dof(p["at_mm"], 0)], "slope_urad": [1e6 * u[dof(p["at_mm"], 1)], 1e6 * u[dof(p["at_mm"], 2)]]} for p in case["loads"]]
    return {**case, "places": places}


CONTACTS = [
    (500.0, 25.0, [(200e3, 0.3), (200e3, 0.3)]),
    (150.0, 5.0, [(210e3, 0.3), (210e3, 0.3)]),
    (150.0, 5.0, [(210e3, 0.3), (70e3, 0.25)]),
    (40.0, 3.0, [(205e3, 0.29), (110e3, 0.26)]),
]

PLATES = [
    dict(
        name="the demo's iron plate", length_mm=320.0, width_mm=180.0, thickness_mm=25.0, young_gpa=110.0, poisson=0.26, density_kg_m3=7200.0,
        feet_mm=[[20.0, 20.0], [300.0, 20.0], [160.0, 160.0]],
        loads=[dict(at_mm=[160.0, 35.0], force_n=24.0), dict(at_mm=[160.0, 145.0], force_n=24.0)],
    ),
    dict(
        name="a thin aluminium plate, loads off its middle", length_mm=300.0, width_mm=200.0, thickness_mm=12.0, young_gpa=70.0, poisson=0.33, density_kg_m3=2700.0,
        feet_mm=[[15.0, 10.0], [285.0, 30.0], [120.0, 190.0]],
        loads=[dict(at_mm=[90.0, 60.0], force_n=80.0), dict(at_mm=[210.0, 120.0], force_n=150.0)],
    ),
]

made_by = f"SciPy {scipy.__version__}, scikit-fem {skfem.__version__}, reference/scripts/contact_plate.py"
json.dump({"made_by": made_by, "contacts": [contact(*c) for c in CONTACTS], "plates": [plate(p) for p in PLATES]}, sys.stdout, indent=1)
