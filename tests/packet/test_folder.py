"""The folder appears complete or not at all."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

from fabplan.errors import FabplanError
from fabplan.packet.output import folder
from fabplan.packet.output.folder import write_file, write_folder

FIRST = {"packet.pdf": b"one", "plan.json": b"{}", "drawings/a.svg": b"<svg/>"}
SECOND = {"packet.pdf": b"two", "plan.json": b"[]", "drawings/b.svg": b"<svg/>"}


def mine(names: Sequence[str]) -> bool:
    return "packet.pdf" in names


def inside(path: Path) -> dict[str, bytes]:
    return {
        p.relative_to(path).as_posix(): p.read_bytes()
        for p in path.rglob("*")
        if p.is_file() and p.name != folder.RECORD
    }


def left_over(tmp_path: Path) -> list[str]:
    return [p.name for p in tmp_path.iterdir() if p.name.startswith(".")]


def test_a_new_folder_and_then_another_in_its_place(tmp_path: Path) -> None:
    target = tmp_path / "out"
    assert write_folder(target, FIRST, mine=mine) == target
    assert inside(target) == FIRST
    write_folder(target, SECOND, mine=mine)
    assert inside(target) == SECOND
    assert left_over(tmp_path) == []


def test_an_empty_folder_is_used(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    write_folder(tmp_path / "out", FIRST, mine=mine)
    assert inside(tmp_path / "out") == FIRST


def test_a_stranger_folder_is_left_alone(tmp_path: Path) -> None:
    target = tmp_path / "out"
    target.mkdir()
    (target / "letter.txt").write_bytes(b"dear")
    with pytest.raises(FabplanError, match="was not written by fabplan"):
        write_folder(target, FIRST, mine=mine)
    assert inside(target) == {"letter.txt": b"dear"}


def test_notes_put_beside_the_packet_stay(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, FIRST, mine=mine)
    (target / "photos").mkdir()
    (target / "photos" / "ridge.jpg").write_bytes(b"jpg")
    (target / "notes.txt").write_bytes(b"mind the valley")
    write_folder(target, SECOND, mine=mine)
    assert inside(target) == {**SECOND, "photos/ridge.jpg": b"jpg", "notes.txt": b"mind the valley"}


def test_files_put_among_the_drawings_stay(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, FIRST, mine=mine)
    (target / "drawings" / "ridge.jpg").write_bytes(b"jpg")
    (target / "drawings" / "own.svg").write_bytes(b"mine")
    write_folder(target, SECOND, mine=mine)
    assert inside(target) == {**SECOND, "drawings/ridge.jpg": b"jpg", "drawings/own.svg": b"mine"}


def test_a_page_somebody_wrote_on_stays_beside_the_new_one(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, FIRST, mine=mine)
    (target / "packet.pdf").write_bytes(b"one, with notes")
    (target / "drawings" / "a.svg").write_bytes(b"coloured")
    write_folder(target, SECOND, mine=mine)
    kept = {**SECOND, "packet-kept.pdf": b"one, with notes", "drawings/a.svg": b"coloured"}
    assert inside(target) == kept
    write_folder(target, FIRST, mine=mine)
    assert inside(target) == {**FIRST, "packet-kept.pdf": b"one, with notes", "drawings/a-kept.svg": b"coloured"}


def test_a_folder_of_before_records_is_replaced(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, FIRST, mine=mine)
    (target / folder.RECORD).unlink()
    (target / "drawings" / "ridge.jpg").write_bytes(b"jpg")
    write_folder(target, SECOND, mine=mine)
    assert inside(target) == {**SECOND, "drawings/ridge.jpg": b"jpg"}


def test_a_packet_some_of_whose_files_were_taken_out_is_replaced(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, FIRST, mine=mine)
    (target / "packet.pdf").unlink()
    write_folder(target, SECOND, mine=mine)
    assert inside(target) == SECOND


@pytest.mark.parametrize("left", ["old", "new", "gone"])
def test_what_a_dead_run_left_blocks_nobody(tmp_path: Path, left: str) -> None:
    target = tmp_path / "out"
    remnant = tmp_path / f".out.{left}-12345678"
    (remnant / "drawings").mkdir(parents=True)
    (remnant / "drawings" / "a.svg").write_bytes(b"<svg/>")  # the rest was deleted when the run was killed
    write_folder(target, SECOND, mine=mine)
    assert inside(target) == SECOND


def test_killed_while_the_old_one_is_deleted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "out"
    write_folder(target, FIRST, mine=mine)
    real = folder.shutil.rmtree

    def killed(path: Path, **_: object) -> None:
        if "gone" in path.name:
            (path / "packet.pdf").unlink()
            raise KeyboardInterrupt
        real(path, ignore_errors=True)

    monkeypatch.setattr(folder.shutil, "rmtree", killed)
    with pytest.raises(KeyboardInterrupt):
        write_folder(target, SECOND, mine=mine)
    monkeypatch.undo()
    assert inside(target) == SECOND
    target.rename(tmp_path / "taken along")
    write_folder(target, FIRST, mine=mine)
    assert inside(target) == FIRST
    assert left_over(tmp_path) == []


def test_a_link_is_not_followed(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    (tmp_path / "out").symlink_to(other)
    with pytest.raises(FabplanError, match="is a link"):
        write_folder(tmp_path / "out", FIRST, mine=mine)
    assert list(other.iterdir()) == []


def test_a_file_in_the_way(tmp_path: Path) -> None:
    (tmp_path / "out").write_bytes(b"x")
    with pytest.raises(FabplanError, match="is a file, not a folder"):
        write_folder(tmp_path / "out", FIRST, mine=mine)
    with pytest.raises(FabplanError, match="part of the path"):
        write_folder(tmp_path / "nowhere" / "out", FIRST, mine=mine)


@pytest.mark.parametrize(
    ("number", "says"),
    [
        (errno.ENOSPC, "the disk is full"),
        (errno.EROFS, "the disk is read-only"),
        (errno.EACCES, "you may not write there"),
        (errno.EIO, "error"),
    ],
)
@pytest.mark.parametrize("at", ["_write", "_swap", "_carry"])
def test_a_fault_leaves_the_old_packet(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, says: str, at: str
) -> None:
    target = tmp_path / "out"
    write_folder(target, FIRST, mine=mine)

    def fail(*_: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(folder, at, fail)
    with pytest.raises(FabplanError, match=says) as caught:
        write_folder(target, SECOND, mine=mine)
    assert "Nothing was changed" in str(caught.value)
    assert inside(target) == FIRST
    assert left_over(tmp_path) == []


def test_a_fault_between_the_renames_puts_the_old_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "out"
    write_folder(target, FIRST, mine=mine)
    real, calls = os.rename, []

    def rename(a: object, b: object) -> None:
        calls.append(b)
        if len(calls) == 2:
            raise OSError(errno.EIO, "error")
        real(a, b)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "rename", rename)
    with pytest.raises(FabplanError):
        write_folder(target, SECOND, mine=mine)
    assert inside(target) == FIRST


def test_after_a_crash_between_the_renames_the_old_is_found_again(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, FIRST, mine=mine)
    target.rename(tmp_path / ".out.old-12345678")
    (tmp_path / ".out.new-12345678").mkdir()
    (tmp_path / "nowrite").write_bytes(b"")
    with pytest.raises(ZeroDivisionError):
        write_folder(target, Bomb(SECOND), mine=mine)
    assert inside(target) == FIRST
    assert left_over(tmp_path) == []


class Bomb(dict[str, bytes]):
    """Files that fail while they are written."""

    def items(self):  # type: ignore[no-untyped-def]
        yield from list(super().items())[:1]
        raise ZeroDivisionError


def test_full_disk_for_real(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(disk)], capture_output=True, check=False
    )
    if made.returncode:
        pytest.skip("no small disk can be mounted here")
    try:
        target = disk / "out"
        write_folder(target, FIRST, mine=mine)
        with pytest.raises(FabplanError, match="the disk is full"):
            write_folder(target, {**SECOND, "packet.pdf": bytes(1_000_000)}, mine=mine)
        assert inside(target) == FIRST
        assert left_over(disk) == []
    finally:
        subprocess.run(["umount", str(disk)], check=False)


RUN = textwrap.dedent(
    """
    import sys
    from pathlib import Path
    from fabplan.packet.output.folder import write_folder
    n = sys.argv[2].encode()
    files = {"packet.pdf": n * 50_000, **{f"drawings/{i}.svg": n * 1000 for i in range(30)}}
    for _ in range(int(sys.argv[3])):
        write_folder(Path(sys.argv[1]), files, mine=lambda names: "packet.pdf" in names)
    """
)


def complete(target: Path) -> None:
    found = inside(target)
    assert len(found) == 31
    first = found["packet.pdf"][:1]
    assert found["packet.pdf"] == first * 50_000
    assert all(found[f"drawings/{i}.svg"] == first * 1000 for i in range(30))


def test_two_runs_into_one_folder(tmp_path: Path) -> None:
    target = tmp_path / "out"
    runs = [subprocess.Popen([sys.executable, "-c", RUN, str(target), n, "4"]) for n in "ab"]
    assert [run.wait(60) for run in runs] == [0, 0]
    complete(target)
    assert left_over(tmp_path) == []


@pytest.mark.skipif(os.name != "posix", reason="needs kill")
@pytest.mark.slow
def test_killed_at_any_moment(tmp_path: Path) -> None:
    target = tmp_path / "out"
    subprocess.run([sys.executable, "-c", RUN, str(target), "a", "1"], check=True)
    for n in range(40):
        run = subprocess.Popen([sys.executable, "-c", RUN, str(target), "bc"[n % 2], "1000"])
        time.sleep(0.12 + 0.017 * n)
        run.send_signal(signal.SIGKILL)
        run.wait()
        if target.exists():
            complete(target)
        else:
            old = [p for p in tmp_path.iterdir() if p.name.startswith((".out.old-", ".out.new-"))]
            assert any(len(inside(p)) == 31 for p in old)
            subprocess.run([sys.executable, "-c", RUN, str(target), "a", "1"], check=True)
    subprocess.run([sys.executable, "-c", RUN, str(target), "a", "1"], check=True)
    complete(target)
    assert left_over(tmp_path) == []


def test_one_file(tmp_path: Path) -> None:
    path = tmp_path / "a.pdf"
    assert write_file(path, b"one") == path
    assert write_file(path, b"two").read_bytes() == b"two"
    assert [p.name for p in tmp_path.iterdir()] == ["a.pdf"]
    with pytest.raises(FabplanError, match="is a folder"):
        write_file(tmp_path, b"x")
    with pytest.raises(FabplanError, match="does not exist"):
        write_file(tmp_path / "no" / "a.pdf", b"x")


def test_a_run_waits_for_another_and_then_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(folder, "_WAIT", 0.15)
    monkeypatch.setattr(folder, "_locked", lambda handle: False)
    with pytest.raises(FabplanError, match="another run is writing this folder"):
        write_folder(tmp_path / "out", FIRST, mine=mine)
    assert not (tmp_path / "out").exists()


def test_a_disk_without_locks_is_written_all_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import fcntl

    def no_locks(*_: object) -> None:
        raise OSError(errno.ENOLCK, "no locks")

    monkeypatch.setattr(fcntl, "flock", no_locks)
    write_folder(tmp_path / "out", FIRST, mine=mine)
    assert inside(tmp_path / "out") == FIRST


def test_a_lock_that_fails_for_another_reason_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import fcntl

    def broken(*_: object) -> None:
        raise OSError(errno.EIO, "error")

    monkeypatch.setattr(fcntl, "flock", broken)
    with pytest.raises(FabplanError, match="cannot be written"):
        write_folder(tmp_path / "out", FIRST, mine=mine)


def test_a_busy_lock_is_tried_again(tmp_path: Path) -> None:
    import fcntl

    handle = os.open(tmp_path / "lock", os.O_CREAT | os.O_RDWR)
    other = os.open(tmp_path / "lock", os.O_RDWR)
    fcntl.flock(handle, fcntl.LOCK_EX)
    assert not folder._locked(other)
    fcntl.flock(handle, fcntl.LOCK_UN)
    assert folder._locked(other)
    assert folder._same_file(other, tmp_path / "lock")
    (tmp_path / "lock").unlink()
    assert not folder._same_file(other, tmp_path / "lock")
    os.close(handle)
    os.close(other)


def test_a_folder_that_cannot_be_listed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "out").mkdir()

    def denied(*_: object) -> None:
        raise OSError(errno.EACCES, "denied")

    monkeypatch.setattr(os, "listdir", denied)
    with pytest.raises(FabplanError, match="you may not write there"):
        write_folder(tmp_path / "out", FIRST, mine=mine)


def test_links_among_the_leftovers_and_strangers_are_not_followed(tmp_path: Path) -> None:
    target, other = tmp_path / "out", tmp_path / "other"
    write_folder(target, FIRST, mine=mine)
    other.mkdir()
    (other / "kept.txt").write_bytes(b"kept")
    (tmp_path / ".out.old-x").symlink_to(other)
    (target / "link").symlink_to(other)
    write_folder(target, SECOND, mine=mine)
    assert (other / "kept.txt").read_bytes() == b"kept"
    assert (target / "link").is_symlink()
    assert (tmp_path / ".out.old-x").is_symlink()
