"""Remake the page pictures of the README from the example job.

    python docs/pictures/remake.py

Needs pdftoppm (poppler-utils). Plans the example, picks pages by their titles, and joins them into one picture.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pdfplumber
from matplotlib import image

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
JOB = ROOT / "docs" / "examples" / "lakeside-pavilion" / "job.toml"
DOTS = 72
PICKS = {
    "pages.png": ("A: diamond shingle", "D: section"),
    "more-pages.png": ("Slope turret", "Pattern 1 of"),
}


def page_of(pdf: Path, title: str) -> int:
    """Number from 1 of the first page whose first words are `title`."""
    with pdfplumber.open(pdf) as doc:
        for number, page in enumerate(doc.pages, 1):
            text = page.extract_text() or ""
            if any(line.startswith(title) for line in text.splitlines()[:3]):
                return number
    raise SystemExit(f"no page begins with {title!r}")


def joined(pictures: list[Path]) -> np.ndarray:
    """Pages side by side on white, a thin line round each."""
    pages = []
    for path in pictures:
        page = image.imread(path)[:, :, :3].copy()
        page[[0, -1], :] = page[:, [0, -1]] = 0.6
        pages.append(page)
    tall = max(p.shape[0] for p in pages)
    padded = [np.pad(p, ((0, tall - p.shape[0]), (0, 12), (0, 0)), constant_values=1.0) for p in pages]
    return np.concatenate(padded, axis=1)[:, :-12]


def main() -> None:
    """Plan, pick, join."""
    if shutil.which("pdftoppm") is None:
        raise SystemExit("pdftoppm is not installed (Debian: apt install poppler-utils)")
    with tempfile.TemporaryDirectory() as temp:
        folder = Path(temp)
        plan = [sys.executable, "-m", "fabplan.cli", "plan", str(JOB), "--out", str(folder / "packet")]
        subprocess.run(plan, check=True, cwd=ROOT, stdout=subprocess.DEVNULL)
        pdf = folder / "packet" / "packet.pdf"
        for name, titles in PICKS.items():
            pictures = []
            for title in titles:
                n = str(page_of(pdf, title))
                stem = folder / f"page{len(pictures)}"
                subprocess.run(
                    ["pdftoppm", "-r", str(DOTS), "-png", "-singlefile", "-f", n, "-l", n, pdf, stem],
                    check=True,
                )
                pictures.append(stem.with_suffix(".png"))
            grey = joined(pictures)
            image.imsave(HERE / name, grey.mean(axis=2), cmap="gray", vmin=0, vmax=1)


if __name__ == "__main__":
    main()
