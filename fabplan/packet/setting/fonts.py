"""Text made safe for paper: the font is found, every character has a shape in it, long words can break.

Text is never parsed as markup; the only thing looked for is a fraction written with U+2044.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from fabplan.errors import FabplanError, JobError, quoted
from fabplan.job.model import Job
from fabplan.speech.format import FRACTION_SLASH

FAMILY = "DejaVu Sans"
_FILES = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")
_FRACTION = re.compile(rf"(?:(?<![\d.,])(\d+)[ \u00a0-])?(?<![\d.,])(\d+){FRACTION_SLASH}(\d+)")
LONGEST_WORD = 24
_CHUNK = 4
# Directional overrides and other invisible controls would make a line read differently from what was typed.
_HIDDEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
_HARMLESS = {"\u200b", "\u00ad", "\u200c", "\u200d", "\u2060", "\u200e", "\u200f", "\u061c"}

Run = str | tuple[str, str, str] | tuple[str]
# A rule number such as 1926.501(b)(1) is kept on one line.
_WHOLE = re.compile(r"\d[\d.]*(?:\([0-9a-z]{1,4}\))+")


def font_folder() -> Path:
    """Folder of the packet's font, found without importing the package that carries it.

    Raises
    ------
    FabplanError
        When the font is not there.
    """
    spec = find_spec("matplotlib")
    places = list(spec.submodule_search_locations or ()) if spec else []
    for place in places:
        folder = Path(place) / "mpl-data" / "fonts" / "ttf"
        if all((folder / name).is_file() for name in _FILES):
            return folder
    where = f"in {Path(places[0]) / 'mpl-data' / 'fonts' / 'ttf'}" if places else "because matplotlib is not installed"
    raise FabplanError(
        f"The packet cannot be printed: its font, {FAMILY} ({' and '.join(_FILES)}), was not found {where}. "
        "Install fabplan again (pip install --force-reinstall matplotlib)."
    )


@cache
def _shapes() -> frozenset[int]:
    """Code points both the regular and the bold font have a shape for."""
    from matplotlib.ft2font import FT2Font

    folder = font_folder()
    regular, bold = (frozenset(FT2Font(str(folder / name)).get_charmap()) for name in _FILES)
    return regular & bold


def unprintable(text: str) -> str | None:
    """The first character of `text` the packet cannot print, or None."""
    return next((char for char in text if not _printable(char)), None)


@cache
def _printable(char: str) -> bool:
    hidden = unicodedata.category(char) in _HIDDEN and char not in _HARMLESS
    return not hidden and ord(char) in _shapes()


def spelled(text: str) -> str:
    """`text` with every character the packet cannot print spelled ``\\u9285``; for text nobody can be asked to change.

    >>> spelled("left of the 銅")
    'left of the \\\\u9285'
    """
    return "".join(char if _printable(char) else char.encode("ascii", "backslashreplace").decode() for char in text)


def describe(char: str) -> str:
    """A character by its number and name, safe to print anywhere."""
    name = unicodedata.name(char, "unnamed character")
    return f"U+{ord(char):04X} {name}"


def check_text(text: str, *, file: str = "", key: str = "") -> None:
    """Refuse a string with a character the font has no shape for.

    Raises
    ------
    JobError
        Naming the character and the text it stands in.
    """
    char = unprintable(text)
    if char is not None:
        raise JobError(
            f"{describe(char)} cannot be printed: the packet's font, {FAMILY}, has no shape for it",
            file=file,
            key=key,
            value=quoted(text),
            write="the text without that character",
        )


def check_texts(texts: Iterable[str], *, file: str = "") -> None:
    """`check_text` for many strings, each once."""
    for text in dict.fromkeys(texts):
        check_text(text, file=file)


def check_job(job: Job) -> None:
    """`check_text` for everything the author of a job named, with the key it stands under.

    Raises
    ------
    JobError
    """
    for key, text in _named(job):
        check_text(text, file=job.file, key=key)


def _named(job: Job) -> Iterator[tuple[str, str]]:
    for field in ("name", "number", "revision", "date", "currency"):
        yield f"job > {field}", getattr(job.info, field)
    for piece in job.pieces:
        yield f"piece {quoted(piece.mark)} > mark", piece.mark
        yield f"piece {quoted(piece.mark)} > note", piece.note
    for stock in job.stock:
        yield f"stock {quoted(stock.name)} > name", stock.name
    for tool in job.hem_tools:
        yield f"hem_tool {quoted(tool.name)} > name", tool.name
    for slope in job.slopes:
        yield f"slope {quoted(slope.name)} > name", slope.name


_WORD = re.compile(rf"[^\s{FRACTION_SLASH}]{{{LONGEST_WORD + 1},}}")


def pieces(text: str) -> list[str]:
    """`text` cut where a line may break inside words longer than `LONGEST_WORD`, so that none runs off the page."""
    out: list[str] = []
    at = 0
    for match in _WORD.finditer(text):
        for cut in range(match.start() + _CHUNK, match.end(), _CHUNK):
            out.append(text[at:cut])
            at = cut
    out.append(text[at:])
    return [piece for piece in out if piece]


def runs(text: str) -> list[Run]:
    """`text` cut into plain strings, fractions (whole, over, under) and words never to break (alone in a tuple).

    A line may break between two strings.

    >>> runs("14 1⁄2 long")
    [('14', '1', '2'), ' long']
    """
    out: list[Run] = []
    at = 0
    for match in _FRACTION.finditer(text):
        if match.start() > at:
            out += _kept_whole(text[at : match.start()])
        out.append((match.group(1) or "", match.group(2), match.group(3)))
        at = match.end()
    if at < len(text):
        out += _kept_whole(text[at:])
    return out


def _kept_whole(text: str) -> list[Run]:
    out: list[Run] = []
    at = 0
    for match in _WHOLE.finditer(text):
        if match.start() > at:
            out += pieces(text[at : match.start()])
        out.append((match.group(),))
        at = match.end()
    if at < len(text):
        out += pieces(text[at:])
    return out
