#!/usr/bin/env python3
"""The air film by general-purpose finite elements (scikit-fem, biquadratic, SciPy's sparse direct solve), on its own mesh.

Usage: python3 reference/scripts/film_scikit_fem.py values > reference/fixtures/film_scikit_fem.json
       python3 reference/scripts/film_scikit_fem.py speed      # beside `cargo bench -p stillwheel-physics --bench film`

Needs scikit-fem 12.0.2 (pip). Same equations as reference/film-cases.json: div(h^3 grad w) = 0, w = 1 on the port, 0 on the edges.
Pressures follow from q = p_a^2 + (p_o^2 - p_a^2) w. Stiffness by central differences of 0.05 um. Drift torque by the shear itself.
Mesh: rings of quadrilaterals from the port's circle to a square, geometric in the radius, then a tensor grid that is finer towards
the saddle's edges, with the square's lines running through.
"""
import json
import sys
import time
from pathlib import Path

import numpy as np
import scipy
import skfem
from scipy.optimize import brentq
from skfem import Basis, BilinearForm, ElementQuad2, MeshQuad, MeshQuad2, asm, condense, solve

R_GAS, GAMMA, G = 287.05, 1.4, 9.80665


def towards(a, b, n, power):
    """n steps from a to b, finer towards b for power > 1."""
    return a + (b - a) * (1 - (1 - np.linspace(0, 1, n + 1)) ** power)


class Film:
    def __init__(self, case, n):
        c = case
        self.c = c
        self.R = c["bore_diameter_mm"] / 2e3
        self.L = c["length_mm"] / 1e3
        half = np.radians(c.get("arc_deg", 180)) / 2 * self.R
        r = c["port_diameter_mm"] / 2e3
        sc, zc = c.get("port_offset_mm", 0) / 1e3, c.get("port_axial_mm", 0) / 1e3
        b = 0.5 * (self.L / 2 - abs(zc))
        # Tensor grid round the square, n steps along its side.
        side = np.linspace(-b, b, n + 1)
        wing = lambda a, e: towards(a, e, max(2, int(np.ceil(1.2 * n * abs(e - a) / (2 * b)))), 1.6)
        sl, zl = [np.concatenate([wing(ce - b, -ext)[::-1][:-1], ce + side, wing(ce + b, ext)[1:]]) for ce, ext in ((sc, half), (zc, self.L / 2))]
        i0, j0 = np.searchsorted(sl, sc - b - 1e-9), np.searchsorted(zl, zc - b - 1e-9)
        pts, quads = [], []
        index = {}

        def node(p):
            key = (round(p[0] * 1e10), round(p[1] * 1e10))
            if key not in index:
                index[key] = len(pts)
                pts.append(p)
            return index[key]

        for i in range(len(sl) - 1):
            for j in range(len(zl) - 1):
                if i0 <= i < i0 + n and j0 <= j < j0 + n:
                    continue
                quads.append([node(q) for q in ((sl[i], zl[j]), (sl[i + 1], zl[j]), (sl[i + 1], zl[j + 1]), (sl[i], zl[j + 1]))])
        layers = max(3, int(np.ceil(n * np.log(b / r) / 2.5)))
        outline = [(x, -b) for x in side[:-1]] + [(b, x) for x in side[:-1]] + [(-x, b) for x in side[:-1]] + [(-b, -x) for x in side[:-1]]

        def ring(layer, k):
            p = np.array(outline[k % len(outline)])
            if layer == layers:
                return node((sc + p[0], zc + p[1]))
            p = p * (r / np.hypot(*p)) ** (1 - layer / layers)
            return node((sc + p[0], zc + p[1]))

        for layer in range(layers):
            for k in range(len(outline)):
                quads.append([ring(layer, k), ring(layer + 1, k), ring(layer + 1, k + 1), ring(layer, k + 1)])
        flat = MeshQuad(np.array(pts).T, np.array(quads).T)
        mesh = MeshQuad2.from_mesh(flat)
        # Curved sides on the port: their middles onto the circle.
        x = mesh.doflocs.copy()
        d = np.hypot(x[0] - sc, x[1] - zc)
        on = d < r * (1 + 1e-6)
        x[:, on] = np.array([[sc], [zc]]) + (x[:, on] - np.array([[sc], [zc]])) * r / d[on]
        self.mesh = MeshQuad2(x, mesh.t)
        self.basis = Basis(self.mesh, ElementQuad2(), intorder=6)
        loc = self.basis.doflocs
        near = np.hypot(loc[0] - sc, loc[1] - zc)
        self.hole = np.flatnonzero(near < r * (1 + 1e-5))
        edge = (np.abs(np.abs(loc[0]) - half) < 1e-9) | (np.abs(np.abs(loc[1]) - self.L / 2) < 1e-9)
        self.edge = np.flatnonzero(edge)
        t = np.linspace(0, 2 * np.pi, 64, endpoint=False)
        self.rim = np.array([sc + r * np.cos(t), zc + r * np.sin(t)])
        # Points and weights that fill the hole.
        g, w = np.polynomial.legendre.leggauss(6)
        rad = r * (g + 1) / 2
        self.disc = np.array([(sc + q * np.cos(a), zc + q * np.sin(a)) for q in rad for a in t]).T
        self.disc_w = np.repeat(w * r / 2 * rad * 2 * np.pi / len(t), len(t))

    def h(self, x, pose):
        c, t = self.c, x[0] / self.R
        xx, yy, tx, ty = pose
        return (c["radial_clearance_um"] * 1e-6 + yy * np.cos(t) - xx * np.sin(t)
                + c.get("oval_um", 0) * 1e-6 * np.cos(2 * (t - np.radians(c.get("oval_deg", 0))))
                + c.get("taper_um", 0) * 1e-6 * x[1] / self.L + x[1] * (ty * np.cos(t) - tx * np.sin(t)))

    def shape(self, pose):
        a = asm(BilinearForm(lambda u, v, w: self.h(w.x, pose) ** 3 * 1e15 * (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1])), self.basis)
        u = np.zeros(self.basis.N)
        u[self.hole] = 1.0
        w = solve(*condense(a, x=u, D=np.concatenate([self.hole, self.edge])))
        return w, float(w @ (a @ w)) / 1e15

    def at(self, pose):
        c = self.c
        w, gamma = self.shape(pose)
        pa, ps = c["ambient_bar_abs"] * 1e5, (c["ambient_bar_abs"] + c["supply_bar"]) * 1e5
        temp, mu = c["temperature_c"] + 273.15, c["viscosity_pa_s"]
        throat = np.pi / 4 * (min(c.get("jet_diameter_mm", np.inf), c["port_diameter_mm"]) / 1e3) ** 2
        curtain = np.pi * c["port_diameter_mm"] / 1e3 * self.h(self.rim, pose).mean()
        area = throat / np.hypot(1, throat / curtain)

        def nozzle(po):
            r = max(po / ps, (2 / (GAMMA + 1)) ** (GAMMA / (GAMMA - 1)))
            return c["discharge"] * area * ps * np.sqrt(2 * GAMMA / ((GAMMA - 1) * R_GAS * temp) * (r ** (2 / GAMMA) - r ** ((GAMMA + 1) / GAMMA)))

        film = lambda po: gamma * (po ** 2 - pa ** 2) / (24 * mu * R_GAS * temp)
        po = brentq(lambda p: nozzle(p) - film(p), pa, ps * (1 - 1e-13), xtol=1e-6)
        b = self.basis
        wi, wgrad = b.interpolate(w), b.interpolate(w).grad
        x = b.global_coordinates()
        p = np.sqrt(pa ** 2 + (po ** 2 - pa ** 2) * np.asarray(wi))
        t, td = np.asarray(x)[0] / self.R, self.disc[0] / self.R
        h = self.h(np.asarray(x), pose)
        dps = (po ** 2 - pa ** 2) * wgrad[0] / (2 * p)
        disc = lambda f: float(((po - pa) * f * self.disc_w).sum())
        return {
            "force_up_n": float(((p - pa) * np.cos(t) * b.dx).sum()) + disc(np.cos(td)),
            "force_right_n": -float(((p - pa) * np.sin(t) * b.dx).sum()) - disc(np.sin(td)),
            "port_bar_abs": po / 1e5,
            "flow_l_min_anr": film(po) * R_GAS * 293.15 / 1e5 * 6e4,
            "torque_un_m": -self.R * float((h / 2 * dps * b.dx).sum()) * 1e6,
            "conductance_um3": gamma * 1e18,
        }

    def stiffness(self, pose, step=5e-8):
        k = []
        for i, name in ((0, "force_right_n"), (1, "force_up_n")):
            f = [self.at([v + s * step * (m == i) for m, v in enumerate(pose)])[name] for s in (-1, 1)]
            k.append((f[0] - f[1]) / (2 * step) * 1e-6)
        return {"stiffness_side_n_um": k[0], "stiffness_up_n_um": k[1]}


def load_cases():
    where = Path(__file__).resolve().parent.parent / "film-cases.json"
    return {c["id"]: c for c in json.loads(where.read_text())["cases"]}


def pose_of(case):
    i, e = case["inputs"], case["expected"]
    get = lambda k: i.get(k, e.get(k, 0.0)) * 1e-6
    return [get("x_um"), get("y_um"), get("tilt_x_urad"), get("tilt_y_urad")]


def values():
    out = {"made_by": "reference/scripts/film_scikit_fem.py",
           "versions": f"scikit-fem {skfem.__version__}, SciPy {scipy.__version__}, NumPy {np.__version__}", "cases": []}
    for ident, case in load_cases().items():
        if "y_um" not in case["inputs"] and "y_um" not in case["expected"]:
            continue
        row = {"id": ident, "pose": pose_of(case), "meshes": []}
        for n in (8, 16, 32):
            film = Film(case["inputs"], n)
            got = {"unknowns": int(film.basis.N - len(film.hole) - len(film.edge)), **film.at(row["pose"])}
            if "load_n" in case["inputs"]:
                got |= film.stiffness(row["pose"])
            row["meshes"].append(got)
        out["cases"].append(row)
        print(ident, row["meshes"], file=sys.stderr)
    print(json.dumps(out, indent=1))


def speed():
    print(f"scikit-fem {skfem.__version__}, SciPy {scipy.__version__}, NumPy {np.__version__}, one core")
    case = load_cases()["F06"]
    fine = Film(case["inputs"], 32).at(pose_of(case))
    for n in (4, 5, 6, 8):
        film = Film(case["inputs"], n)
        pose = pose_of(case)
        got = film.at(pose)
        begun = time.perf_counter()
        for _ in range(20):
            film.at(pose)
        one = (time.perf_counter() - begun) / 20
        # A float from a near start, two unknowns, Newton with differences: three steps of four solves.
        begun = time.perf_counter()
        x = np.array([0.0, pose[1] + 1e-6])
        for _ in range(3):
            f = lambda q: np.array([film.at([q[0], q[1], 0, 0])[k] for k in ("force_right_n", "force_up_n")]) - [0, case["inputs"]["load_n"]]
            f0, d = f(x), 5e-8
            j = np.column_stack([(f(x + [d, 0]) - f0) / d, (f(x + [0, d]) - f0) / d])
            x = x - np.linalg.solve(j, f0)
        whole = time.perf_counter() - begun
        print(f"n {n}: {film.basis.N - len(film.hole) - len(film.edge)} unknowns, solve {one * 1e3:.1f} ms, near float {whole * 1e3:.0f} ms,"
              f" load off {abs(got['force_up_n'] / fine['force_up_n'] - 1):.1e}, torque off {abs(got['torque_un_m'] / fine['torque_un_m'] - 1):.1e}")


if __name__ == "__main__":
    {"values": values, "speed": speed}[sys.argv[1]]()
