#!/usr/bin/env python3
"""Air and nozzle flow by an outside library: viscosity, density, speed of sound, and choked and unchoked isentropic flow of real air.

Usage: python3 reference/scripts/air_coolprop.py > reference/fixtures/air_coolprop.json
Needs CoolProp 8.0.0 (pip). Flow: constant entropy from the supply state; throat at the back pressure, or where the flux is largest (choked).
"""
import json

import CoolProp
from CoolProp.CoolProp import PropsSI


def flux(p0, t0, p):
    """Mass flux of an isentropic nozzle from rest at (p0, t0) to the pressure p, kg/(s m2)."""
    s, h0 = PropsSI("S", "P", p0, "T", t0, "Air"), PropsSI("H", "P", p0, "T", t0, "Air")
    h, rho = PropsSI("H", "P", p, "S", s, "Air"), PropsSI("D", "P", p, "S", s, "Air")
    return rho * (2 * (h0 - h)) ** 0.5


def largest(p0, t0):
    lo, hi = 0.4 * p0, 0.7 * p0
    for _ in range(200):
        a, b = lo + (hi - lo) * 0.382, lo + (hi - lo) * 0.618
        lo, hi = (lo, b) if flux(p0, t0, a) > flux(p0, t0, b) else (a, hi)
    return 0.5 * (lo + hi)


rows = []
for celsius in (0, 20, 40):
    t = celsius + 273.15
    rows.append({"temperature_c": celsius, "viscosity_pa_s": PropsSI("V", "P", 101325, "T", t, "Air"),
                 "density_kg_m3": PropsSI("D", "P", 101325, "T", t, "Air"), "sound_m_s": PropsSI("A", "P", 101325, "T", t, "Air")})
nozzles = []
for p0 in (3e5, 5e5):
    choke = largest(p0, 293.15)
    for ratio in (0.3, 0.6, 0.8, 0.95, 0.999):
        p = ratio * p0
        nozzles.append({"supply_pa": p0, "back_pa": p, "flux_kg_s_m2": flux(p0, 293.15, max(p, choke)), "critical_ratio": choke / p0})
print(json.dumps({"made_by": "reference/scripts/air_coolprop.py", "versions": f"CoolProp {CoolProp.__version__}",
                  "states": rows, "nozzles": nozzles}, indent=1))
