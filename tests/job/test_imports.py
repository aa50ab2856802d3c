"""Reading a job stays light: no numbers library, no drawing library."""

from __future__ import annotations

import subprocess
import sys


def test_loads_nothing_heavy() -> None:
    code = (
        "import sys, fabplan.job.load, fabplan.job.summary, fabplan.job.starter, fabplan.job.metals;"
        "heavy = {'numpy', 'scipy', 'matplotlib', 'shapely', 'typst', 'rich'};"
        "print(sorted({name.split('.')[0] for name in sys.modules} & heavy))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert ran.stdout.strip() == "[]"
