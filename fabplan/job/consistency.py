"""What must hold between the tables of a job: names told apart, marks that name each other, counts, metals in stock."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from fabplan.errors import BadValueError, JobError, quoted
from fabplan.job.finish import finish_faults, finished
from fabplan.job.kinds import KINDS
from fabplan.job.kinds.base import Where
from fabplan.job.merge import ARRAYS, Merged, TableEntry
from fabplan.job.metal_names import MetalNames
from fabplan.job.model import (
    MOST_PIECES,
    Brake,
    Done,
    HemTool,
    JobInfo,
    MetalUse,
    NestOptions,
    PieceBase,
    RectanglePiece,
    Shear,
    Stock,
)
from fabplan.job.slopes import Roof, Slope
from fabplan.job.stock_rules import prefer_faults, shear_faults, stock_faults, tool_faults
from fabplan.job.values import label, word
from fabplan.job.wording import listed, nearest
from fabplan.units import NM_PER_INCH, NM_PER_MM, Show

LEAST_GRID: Final = NM_PER_MM // 10  # 0.1 mm: finer than any hand shear
LARGEST_GRID: Final = NM_PER_INCH
_ROOF_PIECES: Final = ("eave_piece", "hip_piece", "ridge_piece", "rake_piece", "valley_piece", "wall_piece")
_BENT: Final = ("eave_piece", "hip_piece", "ridge_piece")  # of these the roof knows how they are bent
_MADE_UP: Final = {
    "cleat_piece": "", "apex_piece": "apex-cap", "opening_piece": "opening-set", "ridge_end_piece": "ridge-end",
}  # fmt: skip
_KINDS: Final = set(KINDS)
_KIND_KEYS: Final = {"for": "diamond", "hooks": "section"}


@dataclass(slots=True, kw_only=True)
class Read:
    """The tables that could be read one by one; None or left out where they could not."""

    merged: Merged
    units: str
    info: JobInfo | None
    metal: MetalUse | None
    brake: Brake | None
    shear: Shear | None
    roof: Roof | None
    pieces: Sequence[tuple[TableEntry, PieceBase]]
    stock: Sequence[tuple[TableEntry, Stock]]
    slopes: Sequence[tuple[TableEntry, Slope]]
    tools: Sequence[tuple[TableEntry, HemTool]]
    done: Done | None
    nest: NestOptions | None = None


@dataclass(slots=True, kw_only=True)
class CheckedTables:
    """The job's tables after the checks: metal names in one form, and the faults found."""

    faults: list[JobError] = field(default_factory=list)
    metal: MetalUse | None = None
    pieces: tuple[Any, ...] = ()
    stock: tuple[Stock, ...] = ()
    brake: Brake | None = None


def check_job(read: Read) -> CheckedTables:
    """Check the tables against each other and in themselves."""
    merged, result = read.merged, CheckedTables()
    show = Show(read.units, read.info.round_to if read.info else NM_PER_INCH // 64)
    names = MetalNames(merged)
    result.metal = names.use(merged.tables["metal"], read.metal, "use")
    result.pieces = tuple(names.use(entry, piece, "metal") for entry, piece in read.pieces)
    result.pieces = finished(_like_their_diamonds(result.pieces), result.metal, names.profiles)
    result.stock = tuple(names.use(entry, line, "metal") for entry, line in read.stock)
    result.brake = names.allowances(merged.tables["brake"], read.brake)
    faults = [*names.faults, *_info(read), *_counts(read), *_mentions(read), *_done(read)]
    faults += finish_faults(read, result.pieces)
    for table, key in ARRAYS.items():
        faults += _told_apart(merged.arrays[table], table, key)
    for (entry, _), piece in zip(read.pieces, result.pieces, strict=True):
        metal = names.profiles.get(piece.metal or (result.metal.use if result.metal else ""))
        faults += piece.faults(Where(entry=entry, metal=metal, show=show))
    for entry, line in read.stock:
        faults += stock_faults(entry, line, show)
    if read.nest is not None:
        faults += prefer_faults(merged.tables["nest"], read.nest.prefer_on_hand)
    for entry, tool in read.tools:
        faults += tool_faults(entry, tool, show)
    if read.shear is not None:
        faults += shear_faults(merged.tables["shear"], read.shear, show)
    for (entry, _), piece in zip(read.pieces, result.pieces, strict=True):
        if isinstance(piece, RectanglePiece) and result.metal is not None:
            used = piece.metal or result.metal.use
            lines = [s for s in result.stock if (s.metal or result.metal.use) == used]
            faults += _blank_faults(entry, piece, lines, read.shear, show)
    if result.metal is not None and len(read.stock) == len(merged.arrays["stock"]):
        faults += _metals_in_stock(read, result, result.metal.use)
    result.faults = faults
    return result


def _done(read: Read) -> Iterator[JobError]:
    """What is there is of the job's marks, or of a part blank of one; what is unfolded is among it."""
    if read.done is None:
        return
    entry = read.merged.tables["done"]
    marks = [piece.mark for _, piece in read.pieces]
    for key, counts in (("pieces", read.done.pieces), ("unfolded", read.done.unfolded)):
        for mark, n in counts.items():
            if mark not in marks and re.sub(r"-\d+$", "", mark) not in marks:
                yield entry.fault((key, mark), "is the mark of no piece", write=listed(marks[:12]))
            elif key == "unfolded" and n > read.done.pieces.get(mark, 0):
                yield entry.fault(
                    (key, mark), f"must be among the {read.done.pieces.get(mark, 0):,} of it in pieces",
                    value=f"{n:,}", write="fewer",
                )  # fmt: skip


def _like_their_diamonds(pieces: tuple[Any, ...]) -> tuple[Any, ...]:
    """Parts of a diamond that name no metal or finish are of the diamond's."""
    whole = {p.mark: p for p in pieces}
    out = []
    for p in pieces:
        of = whole.get(getattr(p, "for_", ""))
        taken = {k: getattr(of, k) for k in ("metal", "finish") if of is not None and getattr(p, k) is None}
        taken = {k: v for k, v in taken.items() if v is not None}
        out.append(p.model_copy(update=taken) if taken else p)
    return tuple(out)


def _info(read: Read) -> Iterator[JobError]:
    info, entry = read.info, read.merged.tables["job"]
    if info is None:
        return
    if not LEAST_GRID <= info.round_to <= LARGEST_GRID:
        yield entry.fault(
            ("round_to",), "must be 0.1 mm to 1 in", value=quoted(entry.data.get("round_to")),
            write='for example "1/32 in" or "0.5 mm"',
        )  # fmt: skip
    if re.search(r"[/\\:*?\"<>|]", info.number) or info.number.startswith("."):
        yield entry.fault(
            ("number",), 'names the packet folder, so it may not hold / \\ : * ? " < > | or begin with a dot',
            value=quoted(info.number), write="letters, digits and dashes",
        )  # fmt: skip


def _told_apart(entries: Sequence[TableEntry], table: str, key: str) -> Iterator[JobError]:
    """No two entries with the same name, nor one the eye takes for it (capitals, spaces, wide letters)."""
    first: dict[str, TableEntry] = {}
    for entry in entries:
        name = _text(entry, key)
        other = first.setdefault(_alike(name), entry) if name else entry
        if other is not entry:
            source, full = other.source((key,))
            same = _text(other, key)
            capitals = same.casefold() == name.casefold()
            but = "" if same == name else " but for capitals" if capitals else " in other spelling"
            what = {"stock": "stock line", "hem_tool": "hem tool"}.get(table, table)
            yield entry.fault(
                (key,), f"the {what} on line {source.line(full)} has the same {key}{but}", value=quoted(name),
                write=f"another {key}",
            )  # fmt: skip


def _alike(name: str) -> str:
    """A name without what is not seen on paper: capitals, spaces and dashes of every kind, wide and joined letters."""
    plain = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())
    return "".join("-" if unicodedata.category(c) == "Pd" or c == "\u2212" else c for c in plain if not c.isspace())


def _blank_faults(
    entry: TableEntry, piece: RectanglePiece, stock: Sequence[Stock], shear: Shear | None, show: Show
) -> Iterator[JobError]:
    """A blank that may not turn lies one way on all stock: its grain must be that way; a saw must leave something."""
    if not piece.may_turn and piece.grain != "any":
        against = [s for s in stock if (s.grain == "across") == (piece.grain == "along")]
        if against:
            yield entry.fault(
                ("grain",), f"contradicts may_turn = false: so it lies along the stock, and {quoted(against[0].name)} "
                f"is rolled {against[0].grain} its length", value=quoted(piece.grain),
                write="the grain alone, without may_turn, or may_turn alone",
            )  # fmt: skip
    narrow = min(piece.width, piece.length)
    if shear is not None and 2 * shear.kerf >= narrow:
        yield entry.fault(
            ("width" if piece.width == narrow else "length",),
            f"must be more than twice the kerf, {show.exact(shear.kerf)}", value=show.exact(narrow),
            write="a wider blank, or the saw's own kerf",
        )  # fmt: skip


def _text(entry: TableEntry, key: str) -> str:
    try:
        return label(entry.data.get(key))
    except BadValueError:
        return ""


def _counts(read: Read) -> Iterator[JobError]:
    """Every piece is counted once: by its own count, by a slope, or along the roof's edges."""
    slopes = {slope.piece: entry for entry, slope in reversed(read.slopes)}
    edges = {getattr(read.roof, key): key for key in _ROOF_PIECES if read.roof is not None and read.slopes}
    for key in ("cleat_piece", "apex_piece", "opening_piece", "ridge_end_piece"):
        if read.roof is not None and read.slopes and getattr(read.roof, key):
            edges[getattr(read.roof, key)] = key
    bent = {mark for mark, key in edges.items() if key in _BENT}
    total = 0
    for entry, piece in read.pieces:
        total += piece.count or 0
        if getattr(piece, "roof_bend", 0) and piece.mark not in bent:
            yield entry.fault(
                ("bends",), "is taken from the roof only by the section that a [[slope]]'s hips, ridges or eaves are "
                "covered with", value='"roof"' if "bends" in entry.data and entry.found(("bends", 0)) else None,
                write="bends = [-60], or hip_piece, ridge_piece or eave_piece under [roof] with this mark",
            )  # fmt: skip
        slope = slopes.get(piece.mark) or slopes.get(getattr(piece, "for_", ""))
        if piece.count is None and slope is None and piece.mark not in edges:
            if len(read.slopes) == len(read.merged.arrays["slope"]):
                yield entry.fault((), '"count" is missing', write="count = 24, or a [[slope]] that counts it")
        elif piece.count is not None and (slope is not None or piece.mark in edges):
            source, full = (
                slope.source(("piece",)) if slope else read.merged.tables["roof"].source((edges[piece.mark],))
            )
            by = slope.label if slope else f"roof > {edges[piece.mark]}"
            yield entry.fault(
                ("count",), f"{by} on line {source.line(full)} of {source.shown} counts these pieces too",
                value=f"count = {piece.count}", write="the count or the slope, not both",
            )  # fmt: skip
    if total > MOST_PIECES:
        yield JobError(
            f"a job may have {MOST_PIECES:,} pieces at most", file=read.merged.job.shown, value=f"{total:,}",
            write="two jobs",
        )  # fmt: skip


def _mentions(read: Read) -> Iterator[JobError]:
    """Every mark that is named elsewhere is in the job, and of the right kind."""
    kinds: dict[str, str] = {}
    for entry in read.merged.arrays["piece"]:
        mark, kind = entry.data.get("mark"), str(word(entry.data.get("kind")))
        try:
            kinds[label(mark)] = "" if label(mark) in kinds or kind not in _KINDS else kind  # "": said elsewhere
        except BadValueError:
            return  # a mark that cannot be read may be the one that is named
    for entry in read.merged.arrays["piece"]:
        if entry.data.get("kind") is not None:
            for key, kind in _KIND_KEYS.items():
                yield from _mention(entry, key, kind, kinds)
    for entry in read.merged.arrays["slope"]:
        yield from _mention(entry, "piece", "diamond", kinds)
    for key in _ROOF_PIECES:
        mark = _text(read.merged.tables["roof"], key)
        kind = "rake-cover" if key == "rake_piece" and kinds.get(mark) == "rake-cover" else "section"
        yield from _mention(read.merged.tables["roof"], key, kind, kinds)
    for key, kind in _MADE_UP.items():
        yield from _mention(read.merged.tables["roof"], key, kind, kinds)


def _mention(entry: TableEntry, key: str, kind: str, kinds: dict[str, str]) -> Iterator[JobError]:
    """The piece named by a key is in the job, and of the kind wanted ("": any)."""
    mark = _text(entry, key)
    if not mark:
        return
    if mark not in kinds:
        near = nearest(mark, kinds)
        right = [quoted(other) for other, its in kinds.items() if kind in (its, "")]
        write = quoted(near) if near else listed(right[:8]) if right else f"the mark of {_a(kind or 'piece')}"
        yield entry.fault((key,), "names a piece that is not in the job", value=quoted(mark), write=write)
    elif kind and kinds[mark] not in (kind, ""):
        value = f"{quoted(mark)}, {_a(kinds[mark])}"
        yield entry.fault((key,), f"must name {_a(kind)}", value=value, write=f"the mark of {_a(kind)}")


def _a(kind: str) -> str:
    return f"{'an' if kind[0] in 'aeio' else 'a'} {kind}"


def _metals_in_stock(read: Read, result: CheckedTables, job_metal: str) -> Iterator[JobError]:
    """Each piece's metal must be in the stock, when stock is given at all."""
    held = {line.metal or job_metal for line in result.stock}
    missing: dict[str, list[tuple[TableEntry, PieceBase]]] = {}
    for (entry, _), piece in zip(read.pieces, result.pieces, strict=True):
        name = piece.metal or job_metal
        if held and name not in held:
            missing.setdefault(name, []).append((entry, piece))
    for name, needing in missing.items():
        entry, piece = needing[0]
        where, path = (entry, ("metal",)) if piece.metal else (read.merged.tables["metal"], ("use",))
        marks = listed([quoted(p.mark) for _, p in needing[:6]], "and")
        more = f" and {len(needing) - 6} more" if len(needing) > 6 else ""
        yield where.fault(
            path, f"no [[stock]] is of this metal, needed for {marks}{more}", value=quoted(name),
            write=f"a [[stock]] with metal = {quoted(name)}",
        )  # fmt: skip
