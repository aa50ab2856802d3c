"""Jobs too large for a machine are refused with a number; the largest that are taken stay within a gigabyte."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from in_process import Said
from real_runs import HEAD, STOCK, environment

LIMIT = 1_000_000_000


def pieces(kinds: int, count: int) -> str:
    return "".join(
        f'[[piece]]\nmark = "P{k}"\nkind = "rectangle"\ncount = {count}\nwidth = {1 + k % 7}\nlength = {2 + k % 11}\n'
        for k in range(kinds)
    )


def roof(feet: int) -> str:
    return (
        '[[piece]]\nmark = "A"\nkind = "diamond"\nside = "4 in"\nhem = "1/2 in"\n'
        f'[[slope]]\nname = "north"\nshape = "rectangle"\npiece = "A"\nbottom = "{feet} ft"\nheight = "{feet} ft"\n'
    )


def spaced(levels: int) -> str:
    return "x = " + "[" * levels + "]" * levels + "\n"


@pytest.mark.parametrize(
    ("text", "status", "words"),
    [
        (HEAD + pieces(1, 1_000_001) + STOCK, 2, ("P0", "1,000,000")),
        (HEAD + pieces(3, 400_000) + STOCK, 2, ("1,000,000 pieces at most", "1,200,000")),
        (HEAD + pieces(501, 1) + STOCK, 2, ("500", "501")),
        (HEAD + pieces(100_000, 1) + STOCK, 2, ("1,000,000 bytes at most",)),
        (HEAD + "#" + "x" * 100_000_000 + "\n", 2, ("1,000,000 bytes at most",)),
        (HEAD + roof(250) + STOCK, 1, ("north", "about 757,142 pieces", "at most")),
        (HEAD + spaced(60_000), 2, ("levels at most",)),
        (HEAD + pieces(1, 5).replace("width = 1", 'width = "1e30 in"') + STOCK, 2, ("width",)),
    ],
    ids=["count", "counts together", "kinds", "file of kinds", "100 MB", "roof", "nested", "length"],
)
def test_too_large_is_refused_with_a_number(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    text: str,
    status: int,
    words: tuple[str, ...],
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    done = Said(capsys, "plan", "job.toml", "--effort", "0")
    assert done.status == status and all(word in done.err for word in words), done.err
    assert {p.name for p in tmp_path.iterdir()} == {"job.toml"}


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "wait4"), reason="memory of one process cannot be read here")
@pytest.mark.parametrize(
    "text",
    [HEAD + pieces(1, 1_000_000) + STOCK, HEAD + pieces(40, 25_000) + STOCK, HEAD + roof(60) + STOCK],
    ids=["a million", "forty kinds", "roof"],
)
def test_large_jobs_stay_within_a_gigabyte(tmp_path: Path, text: str) -> None:
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    child = subprocess.Popen(
        [sys.executable, "-m", "fabplan", "plan", "job.toml", "--effort", "0"],
        cwd=tmp_path,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        env=environment(),
    )
    assert child.stderr is not None
    said = child.stderr.read().decode()
    _, code, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(code)
    print(f"{used.ru_maxrss / 1000:.0f} MB, {used.ru_utime:.0f} s")
    assert child.returncode == 0, said
    assert used.ru_maxrss * 1024 <= LIMIT
