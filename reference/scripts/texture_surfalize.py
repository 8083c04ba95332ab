"""Roughness and waviness of two profiles from outside packages, for the tests of ours.

Writes reference/fixtures/texture.json: each profile with Ra, Rq, Rt, Rz from surfalize (a general package for surface texture, PyPI) on
the roughness that SciPy's gaussian_filter1d leaves, and Wa, Wq, Wt of that mean line less its straight line (numpy.polyfit). The ends within one cut-off
are left out; Rz is over five sections of one cut-off. surfalize's own Gaussian filter is compared too: its largest difference
from SciPy's line between the ends stands beside.
Run from the repository's root: python3 reference/scripts/texture_surfalize.py
"""
import json
import math
from pathlib import Path

import numpy as np
import scipy
import surfalize
from scipy.ndimage import gaussian_filter1d
from surfalize import Profile

CUTOFF_MM, SPACING_MM = 0.8, 0.004
ALPHA = math.sqrt(math.log(2) / math.pi)


def row(name, z_um):
    section = round(CUTOFF_MM / SPACING_MM)
    inner = slice(section, len(z_um) - section)
    # exp(-pi (x/(alpha lc))^2) is a normal curve of this standard deviation.
    sigma = ALPHA * CUTOFF_MM / math.sqrt(2 * math.pi) / SPACING_MM
    line = gaussian_filter1d(z_um, sigma, truncate=6, mode="constant")
    rough = Profile((z_um - line)[inner], SPACING_MM * 1e3)
    own = Profile(z_um.copy(), SPACING_MM * 1e3).filter("lowpass", CUTOFF_MM * 1e3)
    wavy = line[inner]
    i = np.arange(len(wavy))
    wavy = wavy - np.polyval(np.polyfit(i, wavy, 1), i)
    return {
        "name": name, "cutoff_mm": CUTOFF_MM, "spacing_mm": SPACING_MM,
        "Ra_um": rough.Ra(), "Rq_um": rough.Rq(), "Rt_um": rough.Rt(), "Rz_um": rough.Rz(n_sections=5),
        "Wa_um": np.mean(np.abs(wavy)), "Wq_um": np.sqrt(np.mean(wavy ** 2)), "Wt_um": np.ptp(wavy),
        "filters_differ_um": float(np.max(np.abs((own.data - line)[inner]))),
        "profile_um": [round(float(v), 9) for v in z_um],
    }


n = 5 * 200 + 2 * 200
x = np.arange(n) * SPACING_MM
random = np.random.default_rng(20260715)
ground = 0.3 * np.sin(2 * np.pi * x / 1.9) + gaussian_filter1d(random.normal(0, 0.9, n), 1.5) + 0.05 * x
scallops = np.array([((v % 0.31) - 0.155) ** 2 / (2 * 20.0) * 1e3 for v in x]) + 0.8 * np.cos(2 * np.pi * x / 2.63)
rows = [row("random scratches on a wave, tilted", np.round(ground, 9)), row("scallops on a wave", np.round(scallops, 9))]
out = {"source": f"surfalize {surfalize.__version__} and SciPy {scipy.__version__}", "rows": rows}
Path("reference/fixtures/texture.json").write_text(json.dumps(out) + "\n")
for r in rows:
    print({k: v for k, v in r.items() if k != "profile_um"})
