"""Writing into files people keep by hand: nothing but the keys asked for changes, whole or not at all."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fabplan.errors import FabplanError, JobError, PlanError
from fabplan.job import write_toml
from fabplan.job.write_toml import set_keys

SHOP = """\
# The shop at the quay.   Odd   spacing stays.

[shear]   # the treadle shear
longest_cut = "52 in"      # measured
back_gauge_reach = '48 in'

[labour]  # timed in March
stroke = "10 s"   # Ann
set_gauge = "45 s"

# ---- stock ----
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
"""


def test_only_the_keys_asked_for_change(tmp_path: Path) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(SHOP, encoding="utf-8")
    set_keys(path, "labour", {"stroke": "8.2 s", "scribe": "70 s"}, comments={"scribe": "65 to 75 s"})
    expected = SHOP.replace('stroke = "10 s"   # Ann', 'stroke = "8.2 s"   # Ann').replace(
        'set_gauge = "45 s"\n', 'set_gauge = "45 s"\nscribe = "70 s" # 65 to 75 s\n'
    )
    assert path.read_text(encoding="utf-8") == expected


def test_a_new_table_comes_last(tmp_path: Path) -> None:
    path = tmp_path / "shop.toml"
    text = SHOP.replace("[labour]  # timed in March\n", "[spread]\n").replace(
        'stroke = "10 s"   # Ann\nset_gauge = "45 s"', 'shear = "1/64 in"'
    )
    path.write_text(text, encoding="utf-8")
    set_keys(path, "labour", {"stroke": "8 s"}, comments={"stroke": "7 to 9 s"})
    assert path.read_text(encoding="utf-8") == text + '\n[labour]\nstroke = "8 s" # 7 to 9 s\n'


@pytest.mark.parametrize(
    "text",
    [
        "",
        "# nothing but a comment",
        'labour = {stroke = "10 s"}\n',
        'labour.stroke = "10 s"\n[shear]\nlongest_cut = "4 ft"\n',
        '[labour]\n\n\n[shear]\nlongest_cut = "4 ft"',
        'a = 1\n"labour" = {}\n',
        '[[stock]]\nname = "x"\n[labour]\n',
    ],
)
def test_every_way_a_table_is_written(tmp_path: Path, text: str) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(text, encoding="utf-8")
    before = tomllib.loads(text)
    set_keys(path, "labour", {"stroke": "8 s", "rate": 75})
    after = tomllib.loads(path.read_text(encoding="utf-8"))
    assert after["labour"] == {**before.get("labour", {}), "stroke": "8 s", "rate": 75}
    assert {k: v for k, v in after.items() if k != "labour"} == {k: v for k, v in before.items() if k != "labour"}


def test_line_ends_mark_and_rights_stay(tmp_path: Path) -> None:
    path = tmp_path / "shop.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SHOP.replace("\n", "\r\n").encode())
    path.chmod(0o640)
    set_keys(path, "labour", {"stroke": "8 s", "scribe": "70 s"})
    data = path.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf#")
    assert data.count(b"\r\n") == data.count(b"\n") == SHOP.count("\n") + 1
    assert path.stat().st_mode & 0o777 == 0o640


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real.toml").write_text(SHOP, encoding="utf-8")
    link = tmp_path / "shop.toml"
    link.symlink_to("real.toml")
    set_keys(link, "labour", {"stroke": "8 s"})
    assert link.is_symlink()
    assert '"8 s"' in (tmp_path / "real.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[labour\n", "a table heading is not closed"),
        ('labour = "fast"\n', "must be a table"),
        ("[[labour]]\n", "must be a table"),
    ],
)
def test_a_file_that_cannot_be_changed_is_left(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(JobError, match=says):
        set_keys(path, "labour", {"stroke": "8 s"}, shown="shop.toml")
    assert path.read_text(encoding="utf-8") == text
    assert os.listdir(tmp_path) == ["shop.toml"]


def test_a_file_saved_meanwhile_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(SHOP, encoding="utf-8")

    def saved(*_: object) -> None:
        path.write_text("# mine\n", encoding="utf-8")

    monkeypatch.setattr(write_toml.shutil, "copymode", saved)
    with pytest.raises(PlanError, match="changed this file meanwhile"):
        set_keys(path, "labour", {"stroke": "8 s"})
    assert path.read_text(encoding="utf-8") == "# mine\n"
    assert os.listdir(tmp_path) == ["shop.toml"]


def test_a_folder_that_may_not_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(SHOP, encoding="utf-8")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(write_toml.os, "fsync", full)
    with pytest.raises(PlanError, match="no space left on device"):
        set_keys(path, "labour", {"stroke": "8 s"})
    assert path.read_text(encoding="utf-8") == SHOP
    assert os.listdir(tmp_path) == ["shop.toml"]


KEYS = st.dictionaries(
    st.from_regex(r"[a-z_]{1,8}", fullmatch=True),
    st.one_of(st.text(max_size=20), st.integers(-1000, 1000), st.booleans(), st.floats(-1e6, 1e6)),
    max_size=5,
)


@settings(max_examples=30)
@given(KEYS, KEYS)
def test_what_is_set_is_read_back(tmp_path_factory: pytest.TempPathFactory, there: dict, more: dict) -> None:  # type: ignore[type-arg]
    path = tmp_path_factory.mktemp("toml") / "shop.toml"
    path.write_text('[shear]\nlongest_cut = "4 ft" # long\n', encoding="utf-8")
    try:
        set_keys(path, "labour", there)
        set_keys(path, "labour", more)
    except FabplanError:
        return  # refused whole
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    assert data == {"shear": {"longest_cut": "4 ft"}, "labour": {**there, **more}}
    assert "# long" in path.read_text(encoding="utf-8")


@pytest.mark.slow
def test_killed_at_any_moment(tmp_path: Path) -> None:
    """Kills at 60 moments while the file is written over and over: it is always whole, one value or the other."""
    path = tmp_path / "shop.toml"
    path.write_text(SHOP, encoding="utf-8")
    code = (
        "import sys; from pathlib import Path; from fabplan.job.write_toml import set_keys\n"
        "print('go', flush=True)\n"
        "while True:\n"
        "    for n in range(9): set_keys(Path(sys.argv[1]), 'labour', {'stroke': f'{n} s'})\n"
    )
    for moment in range(60):
        with subprocess.Popen([sys.executable, "-c", code, str(path)], stdout=subprocess.PIPE) as work:
            assert work.stdout is not None
            work.stdout.readline()
            time.sleep(0.003 * (moment % 20))
            work.send_signal(signal.SIGKILL)
        data = tomllib.loads(path.read_text(encoding="utf-8"))
        assert data["stock"] == [{"name": "coil 24", "form": "coil", "width": "24 in"}]
        assert data["labour"]["set_gauge"] == "45 s"
