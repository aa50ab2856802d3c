"""The same plan on every Python and with the oldest libraries allowed.

    python .ci/versions.py JOB [--python EXE ...] [--folder DIR]

For every interpreter two environments are made: one with the pinned libraries (`.ci/constraints.txt`), one with the
lowest that pyproject.toml allows. All plan JOB at effort 0 from this source. With the same libraries plan.json must be
the same byte for byte; with older ones the layouts, the total and the proven least must be the same. What cannot be
installed (no wheel of that age for that Python) is told, not counted.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).parent.parent


def lowest(dependencies: list[str]) -> list[str]:
    """Every dependency at its lower bound."""
    out = []
    for line in dependencies:
        found = re.match(r"([\w.-]+)\s*[>=]=\s*([\w.]+)", line)
        assert found is not None, line
        out.append(f"{found[1]}=={found[2]}")
    return out


def planned(python: str, name: str, arguments: list[str], job: Path, folder: Path) -> str | None:
    """The plan.json of one environment, or None when its libraries cannot be had."""
    place = folder / name
    exe = place / "bin" / "python"
    if not exe.exists():
        subprocess.run([python, "-m", "venv", str(place)], check=True)
        pip = [str(exe), "-m", "pip", "install", "-q", "--only-binary", ":all:", "--no-binary", "rectpack", *arguments]
        made = subprocess.run(pip, capture_output=True, text=True, check=False)
        if made.returncode:
            print(f"{name}: cannot be installed: {made.stderr.strip().splitlines()[-1]}")
            (place / "bin" / "python").unlink()
            return None
    out = folder / f"{name}-packet"
    command = [str(exe), "-m", "fabplan", "plan", str(job), "--effort", "0", "--out", str(out)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"{name}: planning failed\n{done.stdout[-500:]}{done.stderr[-2000:]}")
    return (out / "plan.json").read_text(encoding="utf-8")


def gist(plan: str) -> object:
    """What must not hang on the libraries' age: layouts, total, bound."""
    nest = json.loads(plan)["nesting"]
    layouts = [(y["stock"], y["repeat"], y["width"], y["length"], y["blanks"]) for y in nest["layouts"]]
    return layouts, nest["total_exact"], nest["bound_exact"]


def main() -> int:
    """Plan with every environment; 1 when two differ."""
    reader = argparse.ArgumentParser()
    reader.add_argument("job", type=Path)
    reader.add_argument("--python", nargs="+", default=[sys.executable])
    reader.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "fabplan-versions")
    asked = reader.parse_args()
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    pinned = ["-c", str(ROOT / ".ci" / "constraints.txt"), *project["dependencies"]]
    first: tuple[str, str] | None = None
    wrong = 0
    for python in asked.python:
        told = [python, "-c", "import platform; print(platform.python_version())"]
        version = subprocess.run(told, capture_output=True, text=True, check=True).stdout.strip()
        for what, arguments in (("pinned", pinned), ("lowest", lowest(project["dependencies"]))):
            name = f"{version}-{what}"
            plan = planned(python, name, arguments, asked.job.resolve(), asked.folder)
            if plan is None:
                continue
            first = first or (name, plan)
            same = plan == first[1] if what == "pinned" else gist(plan) == gist(first[1])
            wrong += not same
            alike = (
                "the same bytes"
                if plan == first[1]
                else "the same plan"
                if gist(plan) == gist(first[1])
                else "ANOTHER PLAN"
            )
            print(f"{name}: {alike} as {first[0]}", flush=True)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
