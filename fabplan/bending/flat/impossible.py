"""Why a flat piece cannot be folded with the tools at hand, and what would help."""

from __future__ import annotations

from dataclasses import replace

from fabplan.bending.flat.fold_order import FINISHED, FLAT, PREBENT, Clash, FlatProblem, State, Stroke, fold_order
from fabplan.bending.search import Found
from fabplan.bending.tools import Tool, why_not
from fabplan.blanks.model import Fold
from fabplan.units import Show

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


def explain_flat(problem: FlatProblem, found: Found[State, Stroke], show: Show) -> tuple[list[str], list[str]]:
    """Reasons and re-planned suggestions for a failed search.

    Returns
    -------
    reasons, suggestions : lists of str
    """
    return _reasons(problem, found, show), _suggestions(problem, show)


def _reasons(problem: FlatProblem, found: Found[State, Stroke], show: Show) -> list[str]:
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


def _sentence(problem: FlatProblem, stroke: Stroke, j: int, clash: Clash, stage: int, show: Show) -> str:
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


def _suggestions(problem: FlatProblem, show: Show) -> list[str]:
    """Single changes, each planned again."""
    out: list[str] = []

    def works(folds: tuple[Fold, ...], tools: tuple[Tool, ...]) -> bool:
        _, found = fold_order(
            folds, tools, problem.thickness, face_up=problem.face_up, outline=problem.outline, most_states=TRIAL_STATES
        )
        return found.cost is not None

    if all(t.name != SEAMER.name for t in problem.tools) and works(problem.folds, (*problem.tools, SEAMER)):
        out.append("A hand seamer, which works in bites and stays off the corners, makes every fold.")
    open_hems = [f for f in problem.folds if f.turned >= 180 and f.gap > 0]
    if open_hems:
        closed = tuple(replace(f, gap=0.0) if f.turned >= 180 else f for f in problem.folds)
        if works(closed, problem.tools):
            out.append("Hems made closed (gap 0) can be pressed over without harm, but a closed hem does not hook.")
    for i, fold in enumerate(problem.folds):
        rest = problem.folds[:i] + problem.folds[i + 1 :]
        if len(out) < 4 and len(problem.folds) > 1 and works(rest, problem.tools):
            out.append(f"With edge {fold.edge} left for later by hand, all other folds can be made.")
    for i, fold in enumerate(problem.folds):
        for tool in problem.tools:
            reason = why_not(tool, fold, problem.frames[i].length, FLAT)
            width = {"narrow": tool.least_fold, "wide": tool.greatest_fold}.get(reason)
            if width is None or len(out) >= 5:
                continue
            changed = replace(fold, width=width, flap=_widened(problem, i, width))
            if works((*problem.folds[:i], changed, *problem.folds[i + 1 :]), problem.tools):
                out.append(f"A fold {show.length(width)} wide on edge {fold.edge} suits the {tool.name}.")
    return list(dict.fromkeys(out))


def _widened(problem: FlatProblem, i: int, width: float) -> tuple[tuple[float, float], ...]:
    fold, frame = problem.folds[i], problem.frames[i]
    scale = width / fold.width
    return tuple(frame.place(s, u * scale) for s, u in (frame.local(p) for p in fold.flap))
