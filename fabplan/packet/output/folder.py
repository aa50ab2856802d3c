"""A folder written whole or not at all.

The new folder is built beside the old one under a private name; then the old is renamed away, the new one in, and the
old, once more renamed so that nobody takes a remnant for it, deleted. A crash at any moment leaves one of the two
complete. Files somebody else put into the folder go along, also in its sub-folders; a file of ours that somebody
changed goes along under a name of its own. What is ours stands in a record in the folder. A lock file beside the folder
keeps two runs apart.
"""

from __future__ import annotations

import errno
import hashlib
import json
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
RECORD = ".fabplan"  # in the folder: which files are ours, and their digests
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
            _clear_leftovers(target, mine)
            _refuse(target, mine)
            fresh = _private(target, "new")
            _fill(fresh, files)
            _carry(target, fresh, set(files))
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
    if os.path.lexists(target) and not target.is_file():
        raise FabplanError(f"{target}: is not a file, so it was left alone. Give another file name with --out.")
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
    if inside and not mine(inside) and not _only_ours(target, mine):
        raise FabplanError(
            f"{target}: holds other files and was not written by fabplan, so it was left alone. "
            "Give another folder with --out."
        )


def _only_ours(target: Path, mine: Mine) -> bool:
    """Whether an earlier run of this kind wrote the folder, though some of its files were taken out since."""
    record = _recorded(target)
    return record is not None and mine(sorted({name.split("/", 1)[0] for name in record}))


def _private(target: Path, what: str) -> Path:
    """A new folder beside `target` that only this run knows."""
    for _ in range(100):
        path = target.with_name(f".{target.name[:60]}.{what}-{token_hex(4)}")
        with suppress(FileExistsError):
            path.mkdir()
            return path
    raise OSError(errno.EEXIST, "no free name")


def _fill(folder: Path, files: Mapping[str, bytes]) -> None:
    record = {}
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        _write(path, content)
        record[name] = hashlib.sha256(content).hexdigest()
    _write(folder / RECORD, (json.dumps({"files": record}, indent=0, sort_keys=True) + "\n").encode())
    _settle(folder)


def _recorded(target: Path) -> dict[str, str] | None:
    """Digests of the files an earlier run wrote, by name; None when there is no record."""
    try:
        said = json.loads((target / RECORD).read_bytes())["files"]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None
    return {str(k): str(v) for k, v in said.items()} if isinstance(said, dict) else None


def _carry(target: Path, fresh: Path, own: set[str]) -> None:
    """Copy what others put into the old folder, or changed there, into the new one; links are copied as links."""
    if not target.is_dir():
        return
    record = _recorded(target)
    for at, _, names in os.walk(target):
        for name in sorted(names):
            path = Path(at) / name
            inside = path.relative_to(target).as_posix()
            if inside == RECORD or _ours(path, inside, own, record):
                continue
            new = _free(fresh, inside)
            new.parent.mkdir(parents=True, exist_ok=True)
            if path.is_symlink() or path.is_file():
                shutil.copy2(path, new, follow_symlinks=False)
    for at, folders, _ in os.walk(target):  # empty folders, and links to folders
        for name in folders:
            path = Path(at) / name
            new = fresh / path.relative_to(target)
            if path.is_symlink():
                if not os.path.lexists(new):
                    new.symlink_to(os.readlink(path))
            else:
                new.mkdir(parents=True, exist_ok=True)


def _ours(path: Path, inside: str, own: set[str], record: dict[str, str] | None) -> bool:
    """Whether a file of the old folder is as an earlier run wrote it."""
    if record is not None:
        said = record.get(inside)
        if said is None or path.is_symlink() or not path.is_file():
            return False
        return hashlib.sha256(path.read_bytes()).hexdigest() == said
    # Written before records were kept: what has a name of ours, and the drawings beside those.
    folders = {name.rpartition("/")[0] for name in own if "/" in name}
    return inside in own or (inside.rpartition("/")[0] in folders and inside.endswith(".svg"))


def _free(fresh: Path, inside: str) -> Path:
    """A name in the new folder for a file of somebody else's: its own, or one beside ours."""
    path = fresh / inside
    n = 1
    while os.path.lexists(path):
        more = "-kept" if n == 1 else f"-kept-{n}"
        path = (fresh / inside).with_name(f"{Path(inside).stem}{more}{Path(inside).suffix}")
        n += 1
    return path


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
    _delete(old, target)


def _delete(old: Path, target: Path) -> None:
    """Delete an old folder, under a name that says it is not whole any more."""
    gone = _private(target, "gone")
    gone.rmdir()
    try:
        os.rename(old, gone)
    except OSError:
        return
    shutil.rmtree(gone, ignore_errors=True)


def _clear_leftovers(target: Path, mine: Mine) -> None:
    """After a crash: put a complete old folder back if nothing stands in its place, and delete unfinished ones."""
    stem = f".{target.name[:60]}."
    kinds = tuple(f"{stem}{kind}-" for kind in ("new", "old", "gone"))
    with os.scandir(target.parent) as entries:
        left = [Path(e.path) for e in entries if e.name.startswith(kinds)]
    for path in sorted(left):
        if path.is_symlink() or not path.is_dir():
            continue
        if not path.name.startswith(f"{stem}old-"):
            shutil.rmtree(path, ignore_errors=True)
        elif os.path.lexists(target):
            _delete(path, target)
        elif mine(os.listdir(path)):  # else a remnant that blocks nobody: it is left where it is
            os.rename(path, target)


@contextmanager
def _alone(target: Path) -> Iterator[None]:
    """Hold the folder's lock. The system drops it when its owner ends, however it ends."""
    lock = target.with_name(f".{target.name[:60]}.lock")
    until = time.monotonic() + _WAIT
    while True:
        handle = _open_lock(lock)
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


def _open_lock(lock: Path) -> int:
    """Open the lock file; one left by another person is opened to read, which locks as well."""
    how = getattr(os, "O_NOFOLLOW", 0)
    try:
        return os.open(lock, os.O_CREAT | os.O_RDWR | how, 0o666)
    except PermissionError:
        return os.open(lock, os.O_RDONLY | how)


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
