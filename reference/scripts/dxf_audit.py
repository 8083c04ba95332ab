"""Read DXF files with ezdxf, an outside library, and tell what it finds.

python3 dxf_audit.py FILE...  prints, for each file, one line of JSON: version, units, errors and repairs of the audit, circles
(centre and radius), and the length of each line on the OUTLINE layer. The tests of crates/drawing compare that with the parts.
"""

import json
import math
import sys

import ezdxf

for path in sys.argv[1:]:
    document = ezdxf.readfile(path)
    audit = document.audit()
    model = document.modelspace()
    print(
        json.dumps(
            {
                "file": path,
                "library": ezdxf.__version__,
                "version": document.dxfversion,
                "units": document.header.get("$INSUNITS"),
                "errors": len(audit.errors),
                "repairs": len(audit.fixes),
                "circles": [[c.dxf.center.x, c.dxf.center.y, c.dxf.radius] for c in model.query("CIRCLE[layer=='OUTLINE']")],
                "lines": [
                    math.dist((e.dxf.start.x, e.dxf.start.y), (e.dxf.end.x, e.dxf.end.y)) for e in model.query("LINE[layer=='OUTLINE']")
                ],
            }
        )
    )
