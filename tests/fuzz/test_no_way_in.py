"""A job file can neither read what it does not name, nor write elsewhere, nor put live content on a page."""

from __future__ import annotations

import ast
import os
import re
from pathlib import Path

import pytest
from job_grammar import SEED

from fabplan.cli import main
from fabplan.errors import JobError
from fabplan.job.load import load_job
from fabplan.packet.output.write import packet_files, packet_folder
from fabplan.plan.make import make_plan

ROOT = Path(__file__).resolve().parents[2]
CALLS = {"eval", "exec", "compile", "__import__"}
SERVES = {
    "fabplan/desk/serve.py": {"socket", "webbrowser"}
}  # answers and opens this machine alone: tests/desk/test_guard.py
MODULES = {"pickle", "marshal", "shelve", "subprocess", "socket", "urllib", "http", "ftplib", "webbrowser"}


@pytest.mark.parametrize("path", sorted((ROOT / "fabplan").rglob("*.py")), ids=lambda p: str(p.relative_to(ROOT)))
def test_no_code_is_made_from_data_and_nothing_is_fetched(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id not in CALLS, f"line {node.lineno}"
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            assert node.func.attr not in {"system", "popen"}, f"line {node.lineno}"
        names = []
        if isinstance(node, ast.Import):
            names = [a.name for a in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module]
        served = SERVES.get(path.relative_to(ROOT).as_posix(), set())
        assert not (MODULES - served) & {n.split(".")[0] for n in names}


def run(argv: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    with pytest.raises(SystemExit) as end:
        main(argv)
    return int(end.value.code or 0), capsys.readouterr().err


@pytest.mark.parametrize("shop", ["secret.txt", "secret.toml", "/etc/passwd", "/dev/zero", ".", "pipe.toml"])
def test_a_foreign_file_named_as_shop_is_never_echoed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], shop: str
) -> None:
    (tmp_path / "secret.txt").write_text("tobacco = barn7\nroot:x:0:0")
    (tmp_path / "secret.toml").symlink_to(tmp_path / "secret.txt")
    os.mkfifo(tmp_path / "pipe.toml")
    job = tmp_path / "job.toml"
    job.write_text(f'shop = "{shop}"\n{SEED}')
    status, said = run(["check", str(job)], capsys)
    assert status == 2
    assert "barn7" not in said
    assert "root:x" not in said


NUMBERS = ("../../up", "a/b", "CON", "x" * 60, "..", "ünïcode", "a\\\\b")


def numbered(number: str) -> str:
    return SEED.replace("W-3", number).replace('mark = "K"', 'mark = "../K"')


@pytest.mark.parametrize("number", NUMBERS)
def test_the_folder_of_a_packet_lies_where_one_stands(tmp_path: Path, number: str) -> None:
    job = tmp_path / "job.toml"
    job.write_text(numbered(number))
    try:
        folder = packet_folder(load_job(job))
    except JobError:
        return
    assert folder.parent == Path() and folder.name.endswith("-packet") and "\\" not in folder.name


@pytest.mark.parametrize("number", [NUMBERS[0], *(pytest.param(n, marks=pytest.mark.slow) for n in NUMBERS[1:])])
def test_a_packet_stays_where_it_was_asked(tmp_path: Path, number: str, monkeypatch: pytest.MonkeyPatch) -> None:
    home = tmp_path / "deep" / "home"
    home.mkdir(parents=True)
    job = home / "job.toml"
    job.write_text(numbered(number))
    monkeypatch.chdir(home)
    try:
        main(["plan", str(job), "--effort", "0", "--seconds", "0"])
    except SystemExit as end:
        assert end.code in (0, 2)
    assert {p.name for p in tmp_path.iterdir()} == {"deep"}
    assert {p.name for p in (tmp_path / "deep").iterdir()} == {"home"}
    for folder in home.iterdir():
        assert folder.parent == home


def test_text_of_the_job_is_never_live(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    nasty = "<script>alert(1)</script> onload=x ]]> &amp; $x$"
    job.write_text(SEED.replace("Well house", nasty).replace('mark = "K"', 'mark = "<b>K"'))
    files = packet_files(make_plan(load_job(job), effort=0, should_stop=lambda: True))
    page = files["plan.html"].decode()
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)" in page
    assert len(re.findall(r"<script", page)) == 1
    assert not re.search(r"<[^>]+\son\w+=", page)
    assert "http://" not in page.replace("http://www.w3.org/", "")
    for name, content in files.items():
        if name.endswith(".svg"):
            text = content.decode()
            assert "<script" not in text
            assert not re.search(r"<[^>]+\son\w+=", text)
            assert "<b>" not in text


def test_a_huge_file_is_refused_with_a_number(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = tmp_path / "job.toml"
    with job.open("wb") as f:
        f.truncate(100_000_000)
    status, said = run(["check", str(job)], capsys)
    assert status == 2
    assert "1,000,000 bytes at most" in said, said
