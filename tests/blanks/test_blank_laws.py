"""Laws of flat patterns over random pieces."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from blank_jobs import job, metals, piece
from folding import fold, fold_section, unfold, unfold_section
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from fabplan import plane
from fabplan.blanks import clip
from fabplan.blanks.check.patterns import check_patterns
from fabplan.blanks.develop import develop
from fabplan.blanks.flat.collide import pierce
from fabplan.blanks.model import FlatPattern
from fabplan.errors import JobError

COMMON = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
LONG = settings(COMMON, max_examples=1500)
SAME = 1e-6  # square inches


def inch(lo: float, hi: float, step: int = 64) -> st.SearchStrategy[str]:
    """Typed lengths on 1/64 in."""
    return st.integers(math.ceil(lo * step), math.floor(hi * step)).map(lambda n: f"{n / step:.6f} in")


@st.composite
def diamonds(draw: st.DrawFn, **fixed: Any) -> dict[str, Any]:
    keys: dict[str, Any] = {
        "kind": "diamond",
        "top_angle": draw(st.one_of(st.just(90), st.integers(60, 120), st.floats(60, 120).map(lambda a: round(a, 3)))),
        "upper_hem": draw(inch(0.375, 1.25)),
        "lower_hem": draw(inch(0.375, 1.25)),
        "upper_gap": draw(inch(1 / 16, 1 / 8)),
        "lower_gap": draw(inch(1 / 16, 1 / 8)),
        "allowance": draw(st.sampled_from(["computed", "plain"])),
        draw(st.sampled_from(["side", "blank"])): draw(inch(7, 20)),
    }
    return keys | fixed


folded_to = st.sampled_from(["face", "back"])


@st.composite
def outlines(draw: st.DrawFn) -> dict[str, Any]:
    """Simple polygons round a centre, some corners drawn in, some edges folded."""
    n = draw(st.integers(3, 7))
    turn = draw(st.floats(0, 1))
    points = []
    for i in range(n):
        a = 2 * math.pi * (i + turn + draw(st.floats(-0.25, 0.25))) / n
        r = draw(st.floats(5, 12)) * draw(st.sampled_from([1, 1, 1, 0.55]))
        points.append([f"{round(r * math.cos(a), 3)} in", f"{round(r * math.sin(a), 3)} in"])
    folds = []
    for edge in range(1, n + 1):
        if draw(st.integers(0, 3)):
            turned = draw(st.sampled_from([180, 180, 180, 90, 135, 45, 150]))
            spec = {"edge": edge, "width": draw(inch(0.25, 1)), "toward": draw(folded_to), "turned": turned}
            folds.append(spec | ({"gap": draw(inch(0, 1 / 8))} if turned == 180 else {}))
    return {"kind": "outline", "points": points, "folds": folds}


@st.composite
def sections(draw: st.DrawFn) -> dict[str, Any]:
    legs = draw(st.lists(inch(1, 6), min_size=1, max_size=6))
    bends = [draw(st.sampled_from([90, -90, 45, -30, 120, -150, 10.5])) for _ in legs[1:]]
    radii = [draw(inch(0, 0.2)) for _ in bends]
    keys: dict[str, Any] = {"kind": "section", "length": draw(inch(6, 200)), "legs": legs, "bends": bends}
    if radii:
        keys["inside_radius"] = radii
    for hem in ("start_hem", "end_hem"):
        if draw(st.booleans()):
            keys[hem] = {"width": draw(inch(0.375, 0.75)), "toward": draw(folded_to), "gap": draw(inch(0, 1 / 8))}
    return keys


def made(keys: dict[str, Any], **rest: Any) -> FlatPattern:
    """The pattern of one piece; a random one whose folds do not fit is passed over."""
    try:
        return develop(job(piece(**keys), **rest), metals())[0]
    except JobError as fault:
        assume("fold" in str(fault) or "hem" in str(fault) or "outline" in str(fault) or "leg" in str(fault))
        assume(False)
        raise


def flat_laws(p: FlatPattern) -> None:
    """Panel and flaps are the blank; flaps share nothing; hems stay over the piece; nothing is pierced."""
    piece_ = fold(p)
    outline, flaps = unfold(piece_)
    assert clip.apart(clip.shape(outline), clip.shape(p.snipped)) < SAME
    for f in p.folds:
        assert clip.apart(clip.shape(flaps[f.edge]), clip.shape(f.flap)) < SAME
    total = plane.area(piece_.panel) + sum(plane.area(f.flap) for f in p.folds)
    assert total == pytest.approx(plane.area(p.snipped), abs=SAME)
    # hems stay over the piece; 1/64 in is not worth a snip
    past = max([0.0, *(-f.deduction / 2 for f in p.folds)])  # how far a fold line lies outside the finished edge
    whole = clip.shape(p.finished.outline).buffer(past + 1 / 64 + 1e-6, join_style="mitre", mitre_limit=100)
    for k, f in enumerate(piece_.flaps):
        if f.turned == 180:
            assert clip.difference(clip.shape(f.plan), whole).area < SAME
        for g in piece_.flaps[k + 1 :]:
            one, other = p.folds[k], next(x for x in p.folds if x.edge == g.edge)
            assert clip.overlap(clip.shape(one.flap), clip.shape(other.flap)) < SAME
            if f.toward == g.toward and f.turned == g.turned == 180:
                assert clip.overlap(clip.shape(f.plan), clip.shape(g.plan)) < SAME
            elif f.toward == g.toward:
                assert not pierce(f.space, g.space)


@COMMON
@given(diamonds())
def test_diamonds(keys: dict[str, Any]) -> None:
    p = made(keys)
    flat_laws(p)
    assert p.lattice is not None
    alpha = math.radians(p.lattice.top_angle)
    strip = p.width_units * p.grid / 25_400_000
    assert strip == pytest.approx(math.sin(alpha) * p.side_along, abs=1e-9)
    assert p.finished.side + p.rounding == pytest.approx(
        (strip - p.lattice.upper_allowance - p.lattice.lower_allowance) / math.sin(alpha),
        abs=1e-9,
    )
    assert abs(p.rounding * math.sin(alpha)) <= (1 / 32 if "blank" in keys else 1 / 64) + 1e-9
    # left and right are mirror images: the blank turned over about its long diagonal is itself
    top, bottom = complex(*p.outline[0]), complex(*p.outline[2])
    unit = (bottom - top) / abs(bottom - top)
    other = [top + ((complex(*q) - top) / unit).conjugate() * unit for q in p.snipped]
    assert clip.apart(clip.shape([(c.real, c.imag) for c in other]), clip.shape(p.snipped)) < SAME * 10


@COMMON
@given(outlines())
def test_outlines(keys: dict[str, Any]) -> None:
    flat_laws(made(keys))


@COMMON
@given(outlines())
def test_a_mirrored_outline_has_the_mirrored_blank(keys: dict[str, Any]) -> None:
    p = made(keys)
    n = len(keys["points"])
    flipped = {
        **keys,
        "points": [[f"-{x}" if not x.startswith("-") else x[1:], y] for x, y in reversed(keys["points"])],
        "folds": [{**f, "edge": (n - f["edge"] - 1) % n + 1} for f in keys["folds"]],
    }
    q = made(flipped)
    wide = max(x for x, _ in p.outline)
    assert plane.area(q.snipped) == pytest.approx(plane.area(p.snipped), abs=SAME)
    back = clip.shape([(wide - x, y) for x, y in q.snipped])
    assert clip.apart(back, clip.shape(p.snipped)) < SAME * 10
    assert sorted(sorted(x.legs) for x in q.notches) == [
        pytest.approx(legs, abs=1e-6) for legs in sorted(sorted(x.legs) for x in p.notches)
    ]


PARTS = ("starter", "ridge-half", "rake-left", "rake-right")


@COMMON
@given(diamonds(side=None, blank="12 in"), st.sampled_from(PARTS), st.sampled_from([None, 90, 180, "none"]), folded_to)
def test_parts(keys: dict[str, Any], kind: str, turned: Any, toward: str) -> None:
    keys = {k: v for k, v in keys.items() if k not in ("side", "blank")} | {"blank": "12 in"}
    part: dict[str, Any] = {"kind": kind, "for": "A", "mark": "P", "allowance": keys["allowance"]}
    if turned == "none":
        part["cut_fold"] = "none"
    elif turned:
        part["cut_fold"] = {"width": "3/4 in", "toward": toward, "turned": turned}
    made_job = job(piece(**keys), piece(**part))
    try:
        patterns = develop(made_job, metals())
    except JobError as fault:
        assume("hem" not in str(fault) and "fold" not in str(fault))
        raise
    flat_laws(patterns[1])
    assert check_patterns(patterns, made_job, metals()) == []


@COMMON
@given(diamonds(), st.sampled_from(["none", "3/4 in"]))
def test_rake_halves_are_mirror_images(keys: dict[str, Any], width: str) -> None:
    fold_: Any = "none" if width == "none" else {"width": width, "toward": "face", "turned": 90}
    whole = piece(**keys)
    halves = [piece(kind=k, mark=k, cut_fold=fold_, **{"for": "A"}) for k in ("rake-left", "rake-right")]
    try:
        _, left, right = develop(job(whole, *halves), metals())
    except JobError:
        assume(False)
        raise
    wide = max(x for x, _ in left.outline)
    for a, b in ((left.outline, right.outline), (left.snipped, right.snipped)):
        back = clip.shape([(wide - x, y) for x, y in b])
        assert clip.apart(back, clip.shape(a)) < SAME * 10
    # the piece along the left rake is the right half: its upright cut edge is on its left
    cut = next(
        e for e in zip(left.outline, (*left.outline[1:], left.outline[0]), strict=True) if e[0][0] == e[1][0] == 0
    )
    assert cut[0][1] > cut[1][1]


@COMMON
@given(sections())
def test_sections(keys: dict[str, Any]) -> None:
    p = made(keys)
    assert p.section is not None
    line = fold_section(p)
    total, marks = unfold_section(line)
    assert total == pytest.approx(p.section.developed, abs=1e-9)
    assert marks == pytest.approx(p.section.marks, abs=1e-9)
    assert p.section.developed == pytest.approx(sum(p.section.legs) - sum(f.deduction for f in p.folds), abs=1e-9)
    # the bent axis keeps its length: chords of many short steps add up to it
    points = line.points(200)
    assert sum(math.dist(a, b) for a, b in pairwise(points)) == pytest.approx(total, rel=1e-4)


@COMMON
@given(sections())
def test_a_section_described_from_its_other_end_has_mirrored_marks(keys: dict[str, Any]) -> None:
    p = made(keys)
    back = {**keys, "legs": keys["legs"][::-1], "bends": keys["bends"][::-1]}
    if "inside_radius" in keys:
        back["inside_radius"] = keys["inside_radius"][::-1]
    for a, b in (("start_hem", "end_hem"), ("end_hem", "start_hem")):
        back.pop(a, None)
        if b in keys:
            back[a] = keys[b]
    q = made(back)
    assert p.section is not None
    assert q.section is not None
    assert (q.width_units, q.length_units) == (p.width_units, p.length_units)
    mirrored = [p.section.developed - m for m in reversed(p.section.marks)]
    assert list(q.section.marks) == pytest.approx(mirrored, abs=1e-9)


any_piece = st.one_of(diamonds(), outlines(), sections())


@COMMON
@given(any_piece, st.sampled_from(["1/32 in", "1/16 in", "0.5 mm", "1 mm"]))
def test_the_checker_proves_every_pattern(keys: dict[str, Any], round_to: str) -> None:
    one = job(piece(**keys), round_to=round_to)
    made(keys, round_to=round_to)
    assert check_patterns(develop(one, metals()), one, metals()) == []


def typed(text: str) -> Fraction:
    """A typed number, plain or a/b."""
    over, _, under = text.partition("/")
    return Fraction(over) / int(under or 1)


def _metric(value: Any) -> Any:
    """The same lengths in millimetres, exactly."""
    if isinstance(value, str) and value.endswith(" in"):
        nm = typed(value[:-3]) * 25_400_000
        assert nm == round(nm)
        return f"{round(nm) // 1_000_000}.{round(nm) % 1_000_000:06d} mm" if nm >= 0 else f"-{_metric(value[1:])}"
    if isinstance(value, list):
        return [_metric(v) for v in value]
    if isinstance(value, dict):
        return {k: _metric(v) for k, v in value.items()}
    return value


def _wordless(p: FlatPattern) -> FlatPattern:
    return replace(p, notes=(), notches=tuple(replace(n, says="") for n in p.notches))


@COMMON
@given(any_piece)
def test_an_inch_job_and_the_same_job_in_millimetres_have_the_same_blanks(keys: dict[str, Any]) -> None:
    if "folds" in keys:
        keys = {**keys, "folds": [{**f, "gap": f.get("gap", "1/16 in")} for f in keys["folds"]]}
    extra = {"lap": "3 in"} if keys["kind"] == "section" else {}
    p = made({**keys, **extra}, round_to="1/32 in")
    metric = job(piece("mm", **_metric({**keys, **extra})), units="mm", round_to="1/32 in")
    assert _wordless(develop(metric, metals())[0]) == _wordless(p)


@pytest.mark.slow
@LONG
@given(any_piece, st.sampled_from(["1/32 in", "1/16 in", "0.5 mm", "1 mm"]))
def test_the_checker_proves_very_many_patterns(keys: dict[str, Any], round_to: str) -> None:
    one = job(piece(**keys), round_to=round_to)
    p = made(keys, round_to=round_to)
    if p.section is None:
        flat_laws(p)
    assert check_patterns((p,), one, metals()) == []
