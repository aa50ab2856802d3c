"""Standard output and error as they come: any encoding, closed, full, or cut off.

Text that an output cannot show is said in plain letters or spelled out, never an exception; what cannot be written at
all ends the command with a sentence and an exit code.
"""

from __future__ import annotations

import codecs
import errno
import io
import json
import os
import sys
from contextlib import suppress
from typing import Any

_PLAIN = {
    "°": " deg", "×": "x", "²": "2", "³": "3", "–": "-", "—": "-", "−": "-", "…": "...", "·": "-", "⁄": "/", "½": "1/2",
    "‘": "'", "’": "'", "“": '"', "”": '"', "\u00a0": " ", "\u202f": " ", "•": "*", "─": "-", "━": "-", "⠋": "*",
}  # fmt: skip
_WORDS = {
    errno.EMFILE: "this process may open too few files at a time (see ulimit -n)",
    errno.ENFILE: "this computer has too many files open",
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk quota is used up",
    errno.EROFS: "the disk is read-only",
    errno.EACCES: "you may not do that there",
    errno.EPERM: "you may not do that there",
    errno.ENOENT: "it is not there",
    errno.EIO: "the disk or the network fails",
    errno.EBADF: "it is closed",
    errno.ENOMEM: "there is not enough memory",
    errno.ENAMETOOLONG: "the name is too long",
    errno.ELOOP: "links go round in a circle",
}


def _plainly(fault: UnicodeError) -> tuple[str | bytes, int]:
    """Encoding error handler: plain letters for what an output lacks, else the character's number."""
    if not isinstance(fault, UnicodeEncodeError):
        raise fault
    lost = fault.object[fault.start : fault.end]
    return "".join(_PLAIN.get(c) or c.encode("ascii", "backslashreplace").decode() for c in lost), fault.end


def prepare() -> None:
    """Make standard output and error take any text; a closed one fails when it is written to, and not elsewhere.

    A closed stream's number would be given to the next file opened, and what is meant for the screen would go there.
    """
    codecs.register_error("plainly", _plainly)
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDONLY)  # the lowest free number is given, and the lower ones are open by now
    for name, number in (("stdout", 1), ("stderr", 2)):
        stream = getattr(sys, name)
        if stream is None:
            raw = io.FileIO(number, "w", closefd=False)
            stream = io.TextIOWrapper(io.BufferedWriter(raw), encoding="utf-8", errors="plainly")
            setattr(sys, name, stream)
        elif isinstance(stream, io.TextIOWrapper):
            with suppress(OSError, ValueError):
                stream.reconfigure(errors="plainly")


def flush() -> None:
    """Write out what is waiting.

    Raises
    ------
    OSError
        It could not be written; it is dropped, so that nothing is said of it twice.
    """
    try:
        sys.stdout.flush()
    except (OSError, ValueError):
        give_up()
        raise


def give_up() -> None:
    """Write no more to standard output."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.close(nowhere)


def surroundings_say(fault: BaseException) -> str:
    """A fault of the computer around the program in shop words: which file, what is wrong; nothing of a bug's."""
    chain: BaseException | None = fault
    while chain is not None:
        if isinstance(chain, MemoryError):
            return "This computer has not enough memory for that."
        if "Too many open files" in str(chain) and not isinstance(chain, OSError):  # said so by a library read in
            return f"This run stopped: {_WORDS[errno.EMFILE]}."
        if isinstance(chain, OSError):
            return _os_fault_says(chain)
        chain = chain.__cause__ or chain.__context__
    return ""


def _os_fault_says(fault: OSError) -> str:
    what = _WORDS.get(fault.errno or 0) or (fault.strerror or str(fault)).lower()
    name = fault.filename if isinstance(fault.filename, str) else ""
    return f"{name}: {what}." if name else f"The output, or a file, cannot be used: {what}."


def json_text(data: Any) -> str:
    """JSON that standard output can take: letters spelled ``\\u00e9`` where its encoding lacks some."""
    wide = (getattr(sys.stdout, "encoding", None) or "ascii").lower().replace("-", "").startswith("utf")
    return json.dumps(data, ensure_ascii=not wide, indent=1, allow_nan=False)
