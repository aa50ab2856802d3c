"""A plan made by hand for the packet's tests: no solver, every number known."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

from cut_facts import line, told

from fabplan.bending.model import BendSchedule, BrakeSection, Check, Gauge, Hold, SectionState, Step, Turn
from fabplan.blanks.model import Finished, FlatPattern, Fold, Notch, SectionShape
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Brake, Handling, Job, JobInfo, MetalUse, NestOptions, Shear, Spread
from fabplan.nesting.model import (
    CutPlan,
    Layout,
    Offcut,
    Placed,
    ProgramStep,
    ShearProgram,
    StockUse,
)
from fabplan.nesting.remarks import Outcome, Rival
from fabplan.packet.model import Packet
from fabplan.plan.model import Amount, BuyLine, Lift, Plan

GRID = 793_750  # 1/32 in
FOOT = 304_800_000
COPPER = MetalProfile(
    name="copper-16oz",
    title="Copper 16 oz, H00",
    family="copper",
    temper="H00",
    thickness=0.0216,
    thickness_minimum=0.0204,
    weight=1.0,
    density=0.322,
    expansion=9.8e-6,
    expansion_range=(9.3e-6, 9.8e-6),
    bend_factor=0.35,
    least_inside_radius=0.0,
    yield_ksi=(10.0, 20.0),
    modulus_ksi=17_000.0,
    coil_widths=(),
    sheets=(),
)


def job(**info: Any) -> Job:
    """A job that says only what the packet reads."""
    said: dict[str, Any] = {
        "name": "Lakeside pavilion",
        "number": "LP-07",
        "units": "in",
        "round_to": GRID,
        "batch": 25,
        "revision": "2",
        "date": "4 May",
        "currency": "USD",
        "paper": "letter",
        "keep_at_least": None,
    } | info
    return Job.model_construct(
        file="job.toml",
        shop=None,
        info=JobInfo.model_construct(**said),
        metal=MetalUse.model_construct(use=COPPER.name),
        pieces=(),
        stock=(),
        shear=Shear.model_construct(least_held=25_400_000),
        nest=NestOptions.model_construct(),
        brake=Brake.model_construct(),
        hem_tools=(),
        slopes=(),
        spread=Spread.model_construct(),
        handling=Handling.model_construct(),
    )


def diamond(mark: str = "A", count: int = 140, side: float = 14 + 1 / 32) -> FlatPattern:
    """A square diamond with open hems of 1 in, its blank standing square in its frame."""
    s, hem = side, 1.0
    allowance = (s - (s - 2 * 1.015625)) / 2
    a, b = allowance, s - allowance
    outline = ((0.0, s), (0.0, 0.0), (s, 0.0), (s, s))
    snipped = (
        (2 * a, s),
        (0.0, s - 2 * a),
        (0.0, 3 * a),
        (3 * a, 0.0),
        (s - 2 * a, 0.0),
        (s, 2 * a),
        (s, s - 3 * a),
        (s - 3 * a, s),
    )
    lines = (((a, b), (a, a)), ((a, a), (b, a)), ((b, a), (b, b)), ((b, b), (a, b)))
    flaps = (
        ((a, b), (a, a), (0.0, 2 * a), (0.0, s - 2 * a)),
        ((a, a), (b, a), (s - 2 * a, 0.0), (2 * a, 0.0)),
        ((b, a), (b, b), (s, s - 2 * a), (s, 2 * a)),
        ((b, b), (a, b), (2 * a, s), (s - 2 * a, s)),
    )
    folds = tuple(
        Fold(
            edge=n + 1,
            line=lines[n],
            toward="face" if n in (0, 3) else "back",
            turned=180.0,
            width=hem,
            gap=1 / 16,
            radius=1 / 32,
            bend_allowance=0.12,
            setback=0.05,
            deduction=-0.015625,
            allowance=a,
            slot_depth=0.95,
            flap=flaps[n],
            hem=True,
        )
        for n in range(4)
    )
    corners = outline
    legs = (2 * a, 3 * a, 2 * a, 3 * a)
    kinds = ("45-degree", "side snip", "45-degree", "side snip")
    notches = []
    for n in range(4):
        x, y = corners[n]
        dx, dy = (1 if x == 0 else -1), (1 if y == 0 else -1)
        notches.append(
            Notch(
                corner=n + 1,
                kind=kinds[n],
                removed=((x, y), (x + dx * legs[n], y), (x, y + dy * legs[n])),
                legs=(legs[n], legs[n]),
                depth=a * 2**0.5,
                says="straight snip from mark to mark",
            )
        )
    grads = round(s * 32)
    return FlatPattern(
        mark=mark,
        kind="diamond",
        metal=COPPER.name,
        count=count,
        spare=count // 20,
        width_units=grads,
        length_units=grads,
        grid=GRID,
        outline=outline,
        snipped=snipped,
        folds=folds,
        notches=tuple(notches),
        weight=s * s / 144,
        rounding=0.004,
        thickness=COPPER.thickness,
        finished=Finished(side=s - 2 * a, exposed_side=s - 3.1, outline=((a, b), (a, a), (b, a), (b, b))),
        notes=("Common rule beside it: blank less three hems gives 11-1/32 in to the weather.",),
    )


def drip_edge(mark: str = "D", count: int = 24) -> FlatPattern:
    """A section of four legs with a closed hem at its start."""
    legs, bends, gaps = (0.5, 0.75, 2.5, 3.0), (-180.0, 90.0, -45.0), (0.0, None, None)
    marks, width, length = (0.46875, 1.1875, 3.65625), 6.5625, 48.0
    folds = tuple(
        Fold(
            edge=n + 1,
            line=((m, 0.0), (m, length)),
            toward="face" if bends[n] > 0 else "back",
            turned=abs(bends[n]),
            width=legs[n],
            gap=0.0,
            radius=0.0,
            bend_allowance=0.02,
            setback=0.02,
            deduction=0.02,
            hem=abs(bends[n]) == 180,
        )
        for n, m in enumerate(marks)
    )
    outline = ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length))
    return FlatPattern(
        mark=mark,
        kind="section",
        metal=COPPER.name,
        count=count,
        spare=2,
        width_units=round(width * 32),
        length_units=round(length * 32),
        grid=GRID,
        outline=outline,
        snipped=outline,
        folds=folds,
        weight=width * length / 144,
        thickness=COPPER.thickness,
        finished=Finished(width=5.0, length=length),
        section=SectionShape(
            legs=legs,
            bends=bends,
            radii=(0.0, 0.0, 0.0),
            gaps=gaps,
            marks=marks,
            developed=6.55,
            thickness=COPPER.thickness,
        ),
    )


def plain(mark: str, width: float, length: float, count: int) -> FlatPattern:
    """A plain rectangle."""
    outline = ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length))
    return FlatPattern(
        mark=mark,
        kind="rectangle",
        metal=COPPER.name,
        count=count,
        spare=0,
        width_units=round(width * 32),
        length_units=round(length * 32),
        grid=GRID,
        outline=outline,
        snipped=outline,
        folds=(),
        weight=width * length / 144,
        thickness=COPPER.thickness,
        finished=Finished(width=width, length=length),
    )


def flat_schedule(p: FlatPattern) -> BendSchedule:
    """Four hems: two with the face up, turn over, two with the back up."""
    steps = []
    order = (1, 4, 2, 3)
    for n, edge in enumerate(order, 1):
        fold = p.folds[edge - 1]
        quarter = Turn(rotate=90.0, shift=True)
        turn = {1: Turn(), 2: quarter, 3: Turn(over="away", shift=True), 4: quarter}[n]
        steps.append(
            Step(
                step=n,
                edge=edge,
                turn=turn,
                turns_over=n == 3,
                rotates=n in (2, 4),
                changes_tool=False,
                side_up=fold.toward,
                end_in="",
                action="fold",
                turned_deg=180.0,
                set_deg=180.0,
                check_deg=180.0,
                tool="folding bar, 1 in slot",
                stop=1.0,
                gauged_from=Gauge(what="edge", ref=edge),
                check=Check(what="flap", size=13 + 1 / 32 * n),
                done=order[: n - 1],
                toward=fold.toward,
                hold=Hold(way="slot", shim=1 / 16),
            )
        )
    return BendSchedule(
        mark=p.mark, kind="flat", steps=tuple(steps), proven=True, states=33, turn_overs=1, rotations=2, tool_changes=0
    )


def section_schedule(p: FlatPattern) -> BendSchedule:
    """Hem in two strokes, then two bends on the brake."""
    bed = ((-6.0, -6.0), (0.0, -6.0), (0.0, 0.0), (-6.0, 0.0))
    nose = ((-0.04, 0.02), (-0.3, 0.02), (-3.0, 2.7), (-3.0, 3.5), (-2.2, 3.5), (-0.04, 0.3))
    apron = ((0.0, 0.0), (1.0, 0.0), (1.0, -4.0), (0.0, -4.0))

    def flat_line(n: int) -> SectionState:
        return SectionState(line=((-3.0 - n, 0.0), (0.0, 0.0), (2.0, 0.0)), nose_index=1)

    def bent_line(n: int) -> SectionState:
        return SectionState(line=((-3.0 - n, 0.0), (0.0, 0.0), (-0.6, 1.2)), nose_index=1)

    steps = []
    rows = (
        (1, "pre-bend", 135.0, "back"),
        (1, "close", 180.0, "back"),
        (2, "fold", 90.0, "face"),
        (3, "fold", 45.0, "back"),
    )
    for n, (edge, action, turned, side) in enumerate(rows, 1):
        steps.append(
            Step(
                step=n,
                edge=edge,
                turn=Turn(over="end") if n in (3, 4) else Turn(),
                hold=Hold(way="in front", shim=0.0) if action == "close" else Hold(),
                turns_over=n in (3, 4),
                rotates=False,
                changes_tool=False,
                side_up=side,  # type: ignore[arg-type]
                end_in="start end" if n > 2 else "finish end",
                action=action,  # type: ignore[arg-type]
                turned_deg=turned,
                set_deg=turned + (2 if action == "fold" else 0),
                check_deg=turned,
                tool="brake",
                stop=0.5 + n,
                gauged_from=Gauge(what="bend" if n > 2 else "edge", ref=1),
                check=Check(what="leg", to=Gauge(what="edge", ref=1), size=0.5 * n),
                done=(),
                toward=side,  # type: ignore[arg-type]
                before=flat_line(n),
                after=bent_line(n),
            )
        )
    return BendSchedule(
        mark=p.mark,
        kind="section",
        steps=tuple(steps),
        proven=True,
        states=12,
        turn_overs=2,
        rotations=0,
        tool_changes=0,
        brake=BrakeSection(bed=bed, nose=nose, apron=apron),
    )


def strips(
    stock: str,
    width: int,
    rows: list[tuple[str, int, int, int]],
    length: int,
    repeat: int,
) -> Layout:
    """A coil panel ripped into strips, each cut to length: `rows` are (mark, strip width, piece length, pieces)."""
    blanks, offcuts = [], []
    cuts = [
        line(
            step=1,
            start=(0.0, float(length)),
            end=(float(width), float(length)),
            back_gauge=None,
            held=32,
            stage=0,
        )
    ]
    x = 0
    for _mark, wide, _long, _many in rows:
        x += wide
        if x < width:
            cuts.append(
                line(
                    step=len(cuts) + 1,
                    start=(float(x), 0.0),
                    end=(float(x), float(length)),
                    back_gauge=wide,
                    held=width - x,
                    stage=1,
                )
            )
    if x < width:
        offcuts.append(Offcut(x=x, y=0, width=width - x, length=length, keep=False))
    x = 0
    for mark, wide, long, many in rows:
        for k in range(many):
            blanks.append(Placed(mark=mark, x=x, y=k * long, width=wide, length=long, turned=False))
            if (k + 1) * long < length:
                rest = length - (k + 1) * long
                keep = rest >= 192 and wide >= 192
                final = k + 1 == many
                cuts.append(
                    line(
                        step=len(cuts) + 1,
                        start=(float(x), float((k + 1) * long)),
                        end=(float(x + wide), float((k + 1) * long)),
                        back_gauge=long,
                        held=rest,
                        stage=2,
                    )
                )
                if final:
                    number = 1 + sum(o.keep for o in offcuts) if keep else None
                    offcuts.append(Offcut(x=x, y=(k + 1) * long, width=wide, length=rest, keep=keep, number=number))
        x += wide
    panel = Layout(
        stock=stock,
        form="coil",
        metal=COPPER.name,
        repeat=repeat,
        width=width,
        length=length,
        blanks=tuple(blanks),
        cuts=tuple(cuts),
        offcuts=tuple(offcuts),
    )
    return told(panel, keep=(192, 192))


def plan(*, short: bool = False, stopped: bool = False, **info: Any) -> Plan:
    """Three marks from one coil, two patterns."""
    the_job = job(**info)
    a, d, c = diamond(), drip_edge(), plain("C", 6.0, 4.0, 60)
    layouts = (
        strips("coil 30", 960, [("A", 449, 449, 3), ("A", 449, 449, 3)], 1540, 23),
        strips(
            "coil 30",
            960,
            [("D", 210, 1536, 1), ("D", 210, 1536, 1), ("D", 210, 1536, 1), ("C", 192, 128, 12)],
            1536,
            8,
        ),
        strips("coil 30", 960, [("A", 449, 449, 1), ("A", 449, 449, 1)], 449, 1),
    )
    area = sum(lay.width * lay.length * lay.repeat for lay in layouts)
    blanks_area = sum(b.width * b.length * lay.repeat for lay in layouts for b in lay.blanks)
    kept = sum(o.width * o.length * lay.repeat for lay in layouts for o in lay.offcuts if o.keep)
    length = sum(lay.length * lay.repeat for lay in layouts)
    pounds = area * (GRID / 25_400_000) ** 2 / 144
    cut_plan = CutPlan(
        grid=GRID,
        objective="money",
        total=Fraction(1_204_50, 100),
        metal_total=Fraction(1_204_50, 100),
        bound=Fraction(1_202_00, 100),
        status="short" if short else "not_proven",
        stopped_early=stopped,
        layouts=layouts,
        stock=(
            StockUse(
                name="coil 30",
                form="coil",
                metal=COPPER.name,
                width=960,
                length=None,
                used_length=length,
                used_count=None,
                cost=Fraction(120_450, 100),
                pounds=pounds,
                thickness=COPPER.thickness,
            ),
        ),
        short=(("A", 12),) if short else (),
        scrap_share=(area - blanks_area - kept) / area,
        kept_share=kept / area,
        blanks_area=float(blanks_area),
        stock_area=float(area),
        rivals=(Rival(way="one_size", total=Fraction(1_300), outcomes=(Outcome(what="one_size"),)),),
        program=ShearProgram(
            steps=(
                ProgramStep(step=1, back_gauge=None, angle=90.0, items=((1, (1,), 23), (2, (1,), 8))),
                ProgramStep(step=2, back_gauge=449, angle=90.0, items=((1, (2, 3), 23), (1, (4, 5, 6, 7, 8, 9), 23))),
                ProgramStep(step=3, back_gauge=210, angle=90.0, items=((2, (2, 3, 4), 8),)),
            ),
            settings=3,
            settings_layout_by_layout=9,
            most_open_stacks=4,
            least_settings=3,
        ),
    )
    return Plan(
        job=the_job,
        metals={COPPER.name: COPPER},
        patterns=(a, d, c),
        cut_plan=cut_plan,
        schedules=(flat_schedule(a), section_schedule(d)),
        buy=(
            BuyLine(
                stock="coil 30",
                metal=COPPER.name,
                form="coil",
                need=Amount(length=length * GRID, pounds=pounds),
                pull=Amount(length=100 * FOOT, pounds=pounds * 100 * FOOT / (length * GRID)),
                buy=Amount(length=length * GRID - 100 * FOOT, pounds=pounds * (1 - 100 * FOOT / (length * GRID))),
                price=Decimal("1204.50"),
            ),
        ),
        lifts=(Lift(kind="bundle", of="A", count=12, pounds=60.0, limit=50.0),),
    )


def thinned(packet: Packet) -> Packet:
    """The packet with one template tile and one shear pattern, for quick reading."""
    kept, seen = [], set()
    for page in packet.pages:
        if page.kind in ("template", "shear") and page.kind in seen:
            continue
        seen.add(page.kind)
        kept.append(page)
    return replace(packet, pages=tuple(kept))
