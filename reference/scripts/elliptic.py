"""Complete elliptic integral of the first kind from SciPy, for the tests of ours.

Writes reference/fixtures/elliptic.json: K(m) for swing amplitudes A with m = sin^2(A/2), and for m near 0 and 1.
Run from the repository's root: python3 reference/scripts/elliptic.py
"""
import json
import math
from pathlib import Path

import scipy
from scipy.special import ellipk

amplitudes = [0.01, 1, 5, 10, 20, 25, 40, 60, 90, 120, 150, 170, 175, 179, 179.9]
rows = [{"m": math.sin(math.radians(a) / 2) ** 2, "amplitude_deg": a} for a in amplitudes]
rows += [{"m": m} for m in (0.0, 1e-12, 1e-6, 0.25, 0.5, 0.75, 0.999, 0.999999)]
for row in rows:
    row["k"] = float(ellipk(row["m"]))
out = {"source": f"scipy.special.ellipk, SciPy {scipy.__version__}", "rows": rows}
Path("reference/fixtures/elliptic.json").write_text(json.dumps(out, indent=1) + "\n")
