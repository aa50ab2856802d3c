"""Why a flat piece cannot be folded with the tools at hand, and what would help."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from fabplan.bending.flat.fold_order import (
    FINISHED,
    FLAT,
    PREBENT,
    Clash,
    FlatProblem,
    FoldState,
    FoldStroke,
    fold_order,
)
from fabplan.bending.model import Mend
from fabplan.bending.search import OrderFound
from fabplan.bending.tools import Tool, why_not
from fabplan.blanks.develop import develop
from fabplan.blanks.model import FlatPattern, Fold, Point
from fabplan.errors import JobError
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, OutlinePiece
from fabplan.units import Nm, Show, from_inches

TRIAL_STATES = 1_500

SEAMER = Tool(
    name="hand seamer",
    largest_angle=180.0,
    least_fold=1 / 4,
    greatest_fold=1.5,
    slot_depth=0.0,
    longest_fold=3.5,
    in_bites=True,
    press_strip=1 / 2,
    closes_hems=True,
)
SEAMER_LINES = (
    '[[hem_tool]] with name = "hand seamer", largest_angle = 180, least_fold = "1/4 in", greatest_fold = "1-1/2 in", '
    'longest_fold = "3-1/2 in", in_bites = true, press_strip = "1/2 in", closes_hems = true'
)


def explain_flat(
    problem: FlatProblem,
    found: OrderFound[FoldState, FoldStroke],
    pattern: FlatPattern,
    job: Job,
    metals: Mapping[str, MetalProfile],
) -> tuple[list[str], tuple[Mend, ...]]:
    """Reasons and re-planned mends for a failed search."""
    show = job.show
    return _reasons(problem, found, show), _mends(problem, pattern, job, metals)


def _reasons(problem: FlatProblem, found: OrderFound[FoldState, FoldStroke], show: Show) -> list[str]:
    reasons: list[str] = []
    never = [i for i in range(len(problem.folds)) if not _ways(problem, i)]
    for i in never:
        reasons.append(_no_tool(problem, i, show))
    if reasons or not found.reached:
        return reasons
    most = max(problem.progress(s) for s in found.reached)
    told: set[tuple[int, int, str]] = set()
    for state in found.reached:
        if problem.progress(state) != most:
            continue
        for _, stroke, _ in problem.moves(state):
            for setting in problem.setting(stroke.fold, stroke.tool, stroke.stage):
                for j, clash in problem.clashes(setting, state.stages, stroke):
                    key = (stroke.fold, j, clash.kind)
                    if key not in told:
                        told.add(key)
                        reasons.append(_sentence(problem, stroke, j, clash, state.stages[j], show))
    return reasons[:6]


def _ways(problem: FlatProblem, i: int) -> bool:
    fold, length = problem.folds[i], problem.frames[i].length
    straight = [t for t in problem.tools if not why_not(t, fold, length, FLAT, problem.behind(i))]
    closers = [t for t in problem.tools if not why_not(t, fold, length, PREBENT, problem.behind(i))]
    return any(t.largest_angle >= fold.turned - 1e-6 for t in straight) or bool(straight and closers)


def _no_tool(problem: FlatProblem, i: int, show: Show) -> str:
    fold, length = problem.folds[i], problem.frames[i].length
    why: list[str] = []
    for tool in problem.tools:
        deep = problem.behind(i)
        reason = why_not(tool, fold, length, FLAT, deep) or why_not(tool, fold, length, PREBENT, deep) or "cannot close"
        why.append(
            {
                "narrow": f"the {tool.name} needs at least {show.length(tool.least_fold)}",
                "wide": f"the {tool.name} takes at most {show.length(tool.greatest_fold)}",
                "long": f"the {tool.name} is {show.length(tool.longest_fold)} long",
                "slot": f"the {tool.name}'s slot is {show.length(tool.slot_depth)} deep, "
                f"this flap needs {show.length(fold.slot_depth)}",
                "angle": f"the {tool.name} turns only {show.degrees(tool.largest_angle)}",
                "deep": f"the {tool.name} flattens hems up to {show.length(min(tool.deepest_closed, 1e4))}",
                "throat": f"the {tool.name} takes {show.length(min(tool.throat, 1e4))} behind the fold",
                "shallow": f"the {tool.name} must clamp {show.length(tool.least_behind)}",
                "cannot close": f"the {tool.name} cannot close a hem",
            }[reason]
        )
    return (
        f"Edge {fold.edge} (fold {show.length(fold.width)} wide, {show.length(length)} long, turned "
        f"{show.degrees(fold.turned)}): no tool takes it; " + "; ".join(why) + "."
    )


def _sentence(problem: FlatProblem, stroke: FoldStroke, j: int, clash: Clash, stage: int, show: Show) -> str:
    tool, mine, other = problem.tools[stroke.tool].name, problem.folds[stroke.fold], problem.folds[j]
    what = (
        "open hem" if other.turned >= 180 and stage == FINISHED else "flange" if stage == FINISHED else "pre-bent hem"
    )
    where = _where(problem, stroke.fold, j)
    if clash.kind == "crush":
        return (
            f"Folding edge {mine.edge} with the {tool} would crush the {what} of edge {other.edge} {where} "
            f"({show.number(clash.area, 2)} sq in of it under the jaw)."
        )
    if clash.kind == "land":
        return f"The flap of edge {mine.edge} would land on the {what} of edge {other.edge} {where}."
    if clash.kind == "bed":
        return f"Folding edge {mine.edge} with the {tool}: the {what} of edge {other.edge} points into the bed."
    return f"Folding edge {mine.edge} with the {tool}: the {what} of edge {other.edge} does not go under the nose."


def _where(problem: FlatProblem, i: int, j: int) -> str:
    ends = [problem.frames[j].local(p) for p in problem.folds[i].line]
    inside = [abs(s) < 1.0 or abs(s - problem.frames[j].length) < 1.0 for s, u in ends if abs(u) < 1.0]
    if not any(inside):
        return "where they overlap"
    return f"at the corner between edges {problem.folds[i].edge} and {problem.folds[j].edge}"


def _mends(
    problem: FlatProblem, pattern: FlatPattern, job: Job, metals: Mapping[str, MetalProfile]
) -> tuple[Mend, ...]:
    """Single changes, each developed and planned again; an outline's are keys of its own."""
    out: list[Mend] = []
    show = job.show

    def works(folds: Sequence[Fold], tools: Sequence[Tool], outline: Sequence[Point]) -> bool:
        _, found = fold_order(folds, tools, problem.thickness, outline=outline, most_states=TRIAL_STATES)
        return found.cost is not None

    if all(t.name != SEAMER.name for t in problem.tools) and works(
        problem.folds, (*problem.tools, SEAMER), problem.outline
    ):
        out.append(
            Mend(
                says="A hand seamer, which works in bites and stays off the corners, makes every fold.",
                write=SEAMER_LINES,
            )
        )
    piece = next((p for p in job.pieces if p.mark == pattern.mark and isinstance(p, OutlinePiece)), None)
    if piece is None:
        return tuple(out)

    def changed(**keys: Any) -> bool:
        other = piece.model_copy(update=keys)
        try:
            (made,) = develop(job.model_copy(update={"pieces": (other,)}), metals)
        except JobError:
            return False
        hands = dict(other.finish_by_hand)
        return works([f for f in made.folds if f.edge not in hands], problem.tools, made.snipped)

    if any(f.turned >= 180 and (f.gap is None or f.gap > 0) for f in piece.folds):
        closed = tuple(f.model_copy(update={"gap": Nm(0)}) if f.turned >= 180 else f for f in piece.folds)
        if changed(folds=closed):
            says = "Hems made closed can be pressed over without harm, but a closed hem does not hook."
            out.append(Mend(says=says, write='gap = "0 in" in every fold turned 180'))
    for fold in problem.folds:
        hands = (*piece.finish_by_hand, (fold.edge, fold.turned))
        if len(out) < 4 and len(problem.folds) > 1 and changed(finish_by_hand=hands):
            pairs = [f"[{e}, {d:g}]" for e, d in hands]
            written = pairs[0] if len(pairs) == 1 else f"[{', '.join(pairs)}]"
            says = f"With edge {fold.edge} left for later by hand, all other folds can be made."
            out.append(Mend(says=says, write=f"finish_by_hand = {written}"))
    for i, fold in enumerate(problem.folds):
        for tool in problem.tools:
            reason = why_not(tool, fold, problem.frames[i].length, FLAT)
            width = {"narrow": tool.least_fold, "wide": tool.greatest_fold}.get(reason)
            if width is None or len(out) >= 5:
                continue
            nm = from_inches(width)
            wider = tuple(f.model_copy(update={"width": nm}) if f.edge == fold.edge else f for f in piece.folds)
            if changed(folds=wider):
                says = f"A fold {show.exact(nm)} wide on edge {fold.edge} suits the {tool.name}."
                out.append(Mend(says=says, write=f'width = "{show.exact(nm)}" in the fold of edge {fold.edge}'))
    return tuple(dict.fromkeys(out))
