"""Golden marks: one small text file for each kind of drawing, every word with its place, everything else counted.

Write them anew after a wanted change with ``PYTHONPATH=tests python tests/plotter/golden_marks.py`` and read the
difference.
"""

from collections import Counter
from fractions import Fraction
from pathlib import Path

import pieces
from cut_facts import line, told

from fabplan.nesting.model import Layout, Offcut, Placed
from fabplan.plotter.bend.fold import draw_fold_plan, draw_fold_section
from fabplan.plotter.bend.section import draw_brake, draw_strip_plan
from fabplan.plotter.blank.blank import draw_blank
from fabplan.plotter.blank.finished import draw_finished
from fabplan.plotter.blank.template import draw_template
from fabplan.plotter.board.key import draw_key
from fabplan.plotter.charts import StockBar, draw_stock_bars
from fabplan.plotter.model import Circle, Drawing, Line, Shape, Text
from fabplan.plotter.sheet.sheet import draw_sheet
from fabplan.units import NM_PER_INCH, Show

FOLDER = Path(__file__).parent / "golden"
GRID = NM_PER_INCH // 32


def g(inches: str) -> int:
    """Inches in graduations of 1/32 in."""
    return int(sum(Fraction(part) for part in inches.split()) * 32)


def sheet() -> Layout:
    """A panel off a coil, ripped in two, one strip cut into three blanks, the rest kept (all numbers by hand)."""
    a, w, long = g("14 1/32"), g("24"), g("48")
    panel = Layout(
        stock="coil 24",
        form="coil",
        metal="copper-16oz",
        repeat=4,
        width=w,
        length=long,
        blanks=tuple(Placed(mark="A", x=0, y=k * a, width=a, length=a, turned=False) for k in range(3)),
        cuts=(
            line(step=1, start=(0, long), end=(w, long), back_gauge=None, held=32, stage=0),
            line(step=2, start=(a, 0), end=(a, long), back_gauge=a, held=w - a, stage=1),
            *(
                line(
                    step=3 + k,
                    start=(0, (k + 1) * a),
                    end=(a, (k + 1) * a),
                    back_gauge=a,
                    held=long - (k + 1) * a,
                    stage=2,
                )
                for k in range(3)
            ),
        ),
        offcuts=(
            Offcut(x=a, y=0, width=w - a, length=long, keep=True, number=1),
            Offcut(x=0, y=3 * a, width=a, length=long - 3 * a, keep=False),
        ),
    )
    return told(panel, keep=(w - a, long))


def drawings() -> dict[str, Drawing]:
    """One drawing of every kind."""
    found, show = pieces.patterns(), pieces.show()
    flat, bent = pieces.schedule("A"), pieces.schedule("D")
    bars = [
        StockBar(name="coil 24", amount=800.0, blanks=0.9, kept=0.04, scrap=0.06, says="$800.00", best=True),
        StockBar(name="coil 20", amount=900.0, blanks=0.8, scrap=0.2, says="$900.00"),
    ]
    return {
        "sheet": draw_sheet(sheet(), grid=GRID, show=Show("in", GRID), name="sheet"),
        "blank": draw_blank(found["A"], show=show),
        "strip": draw_blank(found["D"], show=show),
        "finished": draw_finished(found["A"], show=show),
        "finished-section": draw_finished(found["D"], show=show),
        "fold-plan": draw_fold_plan(found["A"], flat, flat.steps[-1]),
        "fold-section": draw_fold_section(found["A"], flat, flat.steps[0], show=show),
        "strip-plan": draw_strip_plan(found["D"], bent, bent.steps[-1]),
        "brake-after": draw_brake(found["D"], bent, bent.steps[-1], "after"),
        "template": draw_template(found["A"], show=show, job="T1")[0].drawing,
        "key": draw_key(roof=True),
        "stock-bars": draw_stock_bars(bars, title="Stock options"),
    }


def written(drawing: Drawing) -> str:
    """The drawing as lines of text."""
    lines = [f"{drawing.name}: {drawing.width:.1f} x {drawing.height:.1f} mm, {drawing.title}"]
    counts: Counter[str] = Counter()
    for mark in drawing.marks:
        match mark:
            case Text():
                turned = f" turned {mark.turned:.0f}" if mark.turned else ""
                bold = " bold" if mark.bold else ""
                at = f"{mark.at[0]:.1f} {mark.at[1]:.1f}"
                lines.append(f"text {at} {mark.size:g}{bold} {mark.anchor}{turned}: {mark.text}")
            case Line():
                counts[f"line {mark.pen}{' arrow ' + mark.arrow if mark.arrow else ''}"] += 1
            case Shape():
                counts[f"shape {mark.pen or 'no pen'} {mark.fill}"] += 1
            case Circle():
                counts[f"circle {mark.pen} {mark.fill} {mark.radius:.2f}"] += 1
    return "\n".join(lines + [f"{n} x {what}" for what, n in sorted(counts.items())]) + "\n"


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for kind, drawing in drawings().items():
        (FOLDER / f"{kind}.txt").write_text(written(drawing), encoding="utf-8")
