"""A folder written whole or not at all.

The new folder is built beside the old one under a private name; then the old is renamed away, the new one in, and the
old deleted. A crash at any moment leaves one of the two complete. Files somebody else put into the folder go along. A
lock file beside the folder keeps two runs apart.
"""

from __future__ import annotations

import errno
import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from secrets import token_hex

from fabplan.errors import FabplanError

# A disk that knows no locks (some network disks): two runs at once are then the shop's own care.
_NO_LOCKS = {errno.ENOLCK, errno.ENOSYS, errno.ENOTSUP, errno.EOPNOTSUPP, errno.EINVAL}
_WAIT = 30.0  # seconds to wait for another run to finish with the folder


def reason(error: OSError, target: Path) -> FabplanError:
    """A file error in shop words, with what to do about it."""
    words = {
        errno.ENOSPC: ("the disk is full", "Free some space, or give another folder with --out."),
        errno.EDQUOT: ("the disk quota is used up", "Free some space, or give another folder with --out."),
        errno.EROFS: ("the disk is read-only", "Give another folder with --out."),
        errno.EACCES: ("you may not write there", "Give another folder with --out."),
        errno.EPERM: ("you may not write there", "Give another folder with --out."),
        errno.ENAMETOOLONG: ("the name is too long", "Give a shorter folder name with --out."),
        errno.ENOTDIR: ("part of the path is a file", "Give another folder with --out."),
        errno.ENOENT: (
            "part of the path does not exist",
            "Make the folder above it first, or give another with --out.",
        ),
    }
    says, help_ = words.get(error.errno or 0, (error.strerror or str(error), "Give another folder with --out."))
    return FabplanError(f"{target}: cannot be written: {says}. Nothing was changed there. {help_}")


Mine = Callable[[Sequence[str]], bool]


def write_folder(target: Path, files: Mapping[str, bytes], *, mine: Mine) -> Path:
    """Put `files` (relative name to bytes) into `target`, replacing what an earlier run wrote there.

    Parameters
    ----------
    target : Path
        The folder to make. Its parent must exist.
    files : mapping
    mine : callable
        Whether a folder with these names in it was written by fabplan; any other non-empty folder is left alone.

    Raises
    ------
    FabplanError
        Nothing was changed at `target`.
    """
    target = Path(os.path.abspath(target))
    _refuse(target, mine)
    fresh: Path | None = None
    try:
        with _alone(target):
            _clear_leftovers(target)
            _refuse(target, mine)
            fresh = _private(target, "new")
            _fill(fresh, files)
            _carry(target, fresh, {name.split("/", 1)[0] for name in files})
            _swap(fresh, target)
            fresh = None
    except OSError as error:
        raise reason(error, target) from error
    finally:
        if fresh is not None:
            shutil.rmtree(fresh, ignore_errors=True)
    return target


def write_file(target: Path, content: bytes) -> Path:
    """One file, written whole or not at all.

    Raises
    ------
    FabplanError
    """
    target = Path(os.path.abspath(target))
    if target.is_dir():
        raise FabplanError(f"{target}: is a folder. Give a file name with --out.")
    beside = target.with_name(f".{target.name[:40]}.new-{token_hex(4)}")
    try:
        _write(beside, content)
        os.replace(beside, target)
    except OSError as error:
        raise reason(error, target) from error
    finally:
        with suppress(OSError):
            beside.unlink()
    return target


def _refuse(target: Path, mine: Mine) -> None:
    """Leave alone what fabplan did not write."""
    if target.is_symlink():
        raise FabplanError(
            f"{target}: is a link to another place. Give the folder itself with --out, or remove the link."
        )
    if not os.path.lexists(target):
        return
    if not target.is_dir():
        raise FabplanError(f"{target}: is a file, not a folder. Give another folder with --out.")
    try:
        inside = os.listdir(target)
    except OSError as error:
        raise reason(error, target) from error
    if inside and not mine(inside):
        raise FabplanError(
            f"{target}: holds other files and was not written by fabplan, so it was left alone. "
            "Give another folder with --out."
        )


def _private(target: Path, what: str) -> Path:
    """A new folder beside `target` that only this run knows."""
    for _ in range(100):
        path = target.with_name(f".{target.name[:60]}.{what}-{token_hex(4)}")
        with suppress(FileExistsError):
            path.mkdir()
            return path
    raise OSError(errno.EEXIST, "no free name")


def _fill(folder: Path, files: Mapping[str, bytes]) -> None:
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        _write(path, content)
    _settle(folder)


def _carry(target: Path, fresh: Path, own: set[str]) -> None:
    """Copy what others put into the old folder into the new one; links are copied as links."""
    if not target.is_dir():
        return
    for name in sorted(os.listdir(target)):
        if name in own:
            continue
        path = target / name
        if path.is_dir() and not path.is_symlink():
            shutil.copytree(path, fresh / name, symlinks=True)
        elif path.is_symlink() or path.is_file():
            shutil.copy2(path, fresh / name, follow_symlinks=False)


def _write(path: Path, content: bytes) -> None:
    """Write a new file (never through a link) and wait until the disk has it."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)
    with os.fdopen(os.open(path, flags, 0o666), "wb") as out:
        out.write(content)
        out.flush()
        os.fsync(out.fileno())


def _settle(folder: Path) -> None:
    """Have the disk keep the folder's names too, where the system can."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _swap(fresh: Path, target: Path) -> None:
    """The old folder away, the new one in, then the old one deleted."""
    if not os.path.lexists(target):
        os.rename(fresh, target)
        return
    old = _private(target, "old")
    old.rmdir()
    os.rename(target, old)
    try:
        os.rename(fresh, target)
    except BaseException:
        os.rename(old, target)
        raise
    _settle(target.parent)
    shutil.rmtree(old, ignore_errors=True)


def _clear_leftovers(target: Path) -> None:
    """After a crash: put a complete old folder back if nothing stands in its place, and delete unfinished ones."""
    stem = f".{target.name[:60]}."
    with os.scandir(target.parent) as entries:
        left = [Path(e.path) for e in entries if e.name.startswith((f"{stem}new-", f"{stem}old-"))]
    for path in sorted(left):
        if path.is_symlink() or not path.is_dir():
            continue
        if path.name.startswith(f"{stem}old-") and not os.path.lexists(target):
            os.rename(path, target)
        else:
            shutil.rmtree(path, ignore_errors=True)


@contextmanager
def _alone(target: Path) -> Iterator[None]:
    """Hold the folder's lock. The system drops it when its owner ends, however it ends."""
    lock = target.with_name(f".{target.name[:60]}.lock")
    until = time.monotonic() + _WAIT
    while True:
        handle = os.open(lock, os.O_CREAT | os.O_RDWR | getattr(os, "O_NOFOLLOW", 0), 0o666)
        if _locked(handle) and _same_file(handle, lock):
            break
        os.close(handle)
        if time.monotonic() > until:
            raise FabplanError(f"{target}: another run is writing this folder. Wait for it to end and run again.")
        time.sleep(0.05)
    try:
        yield
    finally:
        # Deleted while still held, so that nobody can lock the old file after it; Windows keeps it, which does no harm.
        with suppress(OSError):
            lock.unlink()
        os.close(handle)


def _locked(handle: int) -> bool:
    """Try to lock an open file for this process alone."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in (errno.EAGAIN, errno.EACCES, errno.EWOULDBLOCK, errno.EDEADLK):
            return False
        if error.errno not in _NO_LOCKS:
            raise
    return True


def _same_file(handle: int, path: Path) -> bool:
    """Whether an open file is still the one its name leads to."""
    try:
        return os.path.samestat(os.fstat(handle), os.stat(path, follow_symlinks=False))
    except OSError:
        return False
