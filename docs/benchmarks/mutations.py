"""One-line changes of the program that its tests must notice: (file, text, what it becomes), by room.

The text stands once in the file. Rooms are those of the map in DEVELOPERS.md; `TESTS` names the tests of a room in the
order they are tried.
"""

from __future__ import annotations

TESTS: dict[str, tuple[str, ...]] = {
    "ground": ("tests/units",),
    "job": ("tests/job",),
    "blanks": (
        "tests/blanks/test_blank_published.py",
        "tests/blanks/test_bend.py",
        "tests/blanks/test_develop.py",
        "tests/blanks",
    ),
    "roof": (
        "tests/roof/test_measure.py",
        "tests/roof/test_variation.py",
        "tests/roof/test_courses.py",
        "tests/roof/test_outputs.py",
        "tests/roof",
    ),
    "nesting": (
        "tests/nesting/test_minutes.py",
        "tests/nesting/test_nest_cuts.py",
        "tests/nesting/test_nest_program.py",
        "tests/nesting/test_nest_jobs.py",
        "tests/nesting/test_nest_check_says.py",
        "tests/nesting",
    ),
    "bending": (
        "tests/bending/test_springback.py",
        "tests/bending/test_bend_schedule.py",
        "tests/bending/test_fold_order.py",
        "tests/bending/test_bend_order.py",
        "tests/bending",
    ),
    "plan": (
        "tests/plan/test_buy_and_handling.py",
        "tests/plan/test_codec.py",
        "tests/plan/test_round_trip.py",
        "tests/plan",
    ),
    "plotter": (
        "tests/plotter/test_sheet.py",
        "tests/plotter/test_golden_marks.py",
        "tests/plotter/test_paint.py",
        "tests/plotter",
    ),
    "packet": (
        "tests/packet/test_totals_read_back.py",
        "tests/packet/test_cutrows.py",
        "tests/packet/test_folder.py",
        "tests/packet/test_golden.py",
        "tests/packet/test_words.py",
        "tests/packet",
    ),
    "shop": ("tests/shop",),
    "commands": ("tests/cli",),
}

Change = tuple[str, str, str]

MUTATIONS: dict[str, tuple[Change, ...]] = {
    "ground": (
        ("fabplan/units.py", "return int((exact + Fraction(1, 2)).__floor__())", "return int(exact.__floor__())"),
        (
            "fabplan/units.py",
            "return -((-exact.numerator) // exact.denominator)",
            "return exact.numerator // exact.denominator",
        ),
        ("fabplan/units.py", "if inch_part >= 12:", "if inch_part > 12:"),
        ("fabplan/units.py", "places = 1 if abs(value) >= 10 else 2", "places = 1 if abs(value) >= 1 else 2"),
        ("fabplan/units.py", "MM2_PER_SQ_IN = Fraction(64_516, 100)", "MM2_PER_SQ_IN = Fraction(64_500, 100)"),
        (
            "fabplan/units.py",
            'total = int(match["feet"]) * NM_PER_FOOT + inch_part',
            'total = int(match["feet"]) * NM_PER_FOOT - inch_part',
        ),
    ),
    "job": (
        ("fabplan/job/readers.py", "    if length <= 0:\n", "    if length < 0:\n"),
        (
            "fabplan/job/readers.py",
            "if number < 1 or not 0 < degrees <= 180:",
            "if number < 1 or not 0 < degrees <= 360:",
        ),
        ("fabplan/job/readers.py", "if not 0 <= number <= 20:", "if not 0 <= number <= 200:"),
        ("fabplan/job/consistency.py", "first.setdefault(_alike(name), entry)", "first.setdefault(name, entry)"),
        ("fabplan/job/consistency.py", "if total > MOST_PIECES:", "if total > 10 * MOST_PIECES:"),
        (
            "fabplan/job/consistency.py",
            "elif piece.count is not None and (slope",
            "elif piece.count is None and (slope",
        ),
        (
            "fabplan/job/consistency.py",
            "if not LEAST_GRID <= info.round_to <= LARGEST_GRID:",
            "if not 0 <= info.round_to <= LARGEST_GRID:",
        ),
    ),
    "blanks": (
        (
            "fabplan/blanks/flat/bend.py",
            "return math.radians(turned) * (radius + factor * thickness)",
            "return math.radians(turned) * (radius + thickness)",
        ),
        (
            "fabplan/blanks/flat/bend.py",
            "math.tan(math.radians(min(turned, 90.0)) / 2)",
            "math.tan(math.radians(turned) / 2)",
        ),
        ("fabplan/blanks/flat/bend.py", "return width - self.deduction", "return width + self.deduction"),
        (
            "fabplan/blanks/kinds/diamond.py",
            "lap = max(upper, lower) + thickness + slack",
            "lap = min(upper, lower) + thickness + slack",
        ),
        ("fabplan/blanks/kinds/diamond.py", "exposed = side - lap / math.sin(alpha)", "exposed = side - lap"),
        ("fabplan/blanks/kinds/diamond.py", "hooked=upper + lower - lap,", "hooked=upper - lap,"),
        (
            "fabplan/blanks/kinds/diamond.py",
            "/ (2 * math.cos(alpha / 2)) + joint / 2",
            "/ (2 * math.cos(alpha / 2)) + joint",
        ),
        ("fabplan/blanks/kinds/diamond.py", "blank = side + taken", "blank = side + taken / 2"),
    ),
    "roof": (
        ("fabplan/roof/measure/shapes.py", "return 0.25 * math.sqrt(", "return 0.5 * math.sqrt("),
        (
            "fabplan/roof/measure/shapes.py",
            "return across_flats * math.tan(math.pi / sides)",
            "return across_flats * math.sin(math.pi / sides)",
        ),
        (
            "fabplan/roof/lay/courses.py",
            "courses = max(1, math.ceil(height / lattice.course - 1e-9))",
            "courses = max(1, math.floor(height / lattice.course))",
        ),
        ("fabplan/roof/lay/courses.py", "allowed=hooked >= least_hook - 1e-9", "allowed=hooked <= least_hook - 1e-9"),
        ("fabplan/roof/lay/courses.py", "height = k * grid.course", "height = (k + 1) * grid.course"),
        (
            "fabplan/roof/extras/kits.py",
            "DEFAULT_PIECES\n    return most, None if",
            "DEFAULT_PIECES\n    return most + 1, None if",
        ),
        (
            "fabplan/roof/extras/kits.py",
            "        self.pounds += count * each\n\n    def add_spare",
            "        self.pounds += each\n\n    def add_spare",
        ),
        ("fabplan/roof/extras/underlayment.py", "y0 = low + row * (width - side_lap)", "y0 = low + row * width"),
        ("fabplan/roof/extras/underlayment.py", "runs.append(x1 - x0 + over * min(ends, 2))", "runs.append(x1 - x0)"),
        ("fabplan/roof/extras/edges.py", "extra = 2 * inches(roof.cap_end_lap)", "extra = inches(roof.cap_end_lap)"),
        (
            "fabplan/roof/extras/edges.py",
            "return edge.length * (high - layout.cap_line) / (high - low)",
            "return edge.length * (layout.cap_line - low) / (high - low)",
        ),
        (
            "fabplan/roof/extras/variation.py",
            "return shear**2 + 4 * fold**2 + wider_hem(apart, fold)[1] + play**2 / 12",
            "return shear**2 + 4 * fold**2 + wider_hem(apart, fold)[1] + play**2",
        ),
        (
            "fabplan/roof/extras/variation.py",
            "sideways_sigma=spread / math.cos(half)",
            "sideways_sigma=spread / math.sin(half)",
        ),
    ),
    "nesting": (
        (
            "fabplan/nesting/minutes.py",
            "_spent(FETCH[layout.form], layout.repeat, labour)",
            "_spent(FETCH[layout.form], 1, labour)",
        ),
        ("fabplan/nesting/minutes.py", "gauges += back_gauge != gauge", "gauges += 1"),
        ("fabplan/nesting/minutes.py", "max(0, piles - FREE_STACKS)", "piles"),
        (
            "fabplan/nesting/nest.py",
            "scrap_share=(stock_area - blanks_area - kept) / stock_area",
            "scrap_share=(stock_area - blanks_area) / stock_area",
        ),
        (
            "fabplan/nesting/nest.py",
            "if bound and total / bound - 1 <= margin:",
            "if bound and total / bound - 1 <= 10 * margin:",
        ),
        (
            "fabplan/nesting/problem.py",
            "return int(Fraction(str(have.pounds)) / pounds)",
            "return int(Fraction(str(have.pounds)))",
        ),
        ("fabplan/nesting/problem.py", 'return 1 if stock.form == "offcut" else None', "return None"),
        ("fabplan/nesting/problem.py", "return amount * pounds / POUNDS_PER_KG", "return amount * pounds"),
        (
            "fabplan/nesting/problem.py",
            'least_held=to_grid(shear.least_held, grid, "up")',
            'least_held=to_grid(shear.least_held, grid, "down") - 1',
        ),
        ("fabplan/nesting/cuts/order.py", "if width > limits.longest_cut:", "if width > 2 * limits.longest_cut:"),
        ("fabplan/nesting/cuts/program.py", "most_open_stacks=best[1],", "most_open_stacks=best[1] + 1,"),
        ("fabplan/nesting/cuts/layouts.py", "pounds=line.pounds * n,", "pounds=line.pounds,"),
        (
            "fabplan/nesting/search/bound.py",
            "total += take * line.cost_per_area",
            "total += take * line.cost_per_area * 2",
        ),
        ("fabplan/nesting/check/whole.py", "if plan.metal_total != total:", "if plan.metal_total < total:"),
    ),
    "bending": (
        ("fabplan/bending/brake/springback.py", "return 4 * x**3 - 3 * x + 1", "return 4 * x**3 - 2 * x + 1"),
        (
            "fabplan/bending/brake/springback.py",
            "return turned / ratio - turned if ratio > 0",
            "return turned - turned * ratio if ratio > 0",
        ),
        ("fabplan/bending/brake/springback.py", "overbend(turned, max(radius, t), t,", "overbend(turned, radius, t,"),
        ("fabplan/bending/flat/steps.py", "return fold.width - fold.setback", "return fold.width"),
        (
            "fabplan/bending/flat/steps.py",
            "return straight(fold) + fold.bend_allowance / 2",
            "return straight(fold) + fold.bend_allowance",
        ),
        (
            "fabplan/bending/flat/steps.py",
            'side_up="face" if problem.up[stroke.fold] else "back"',
            'side_up="back" if problem.up[stroke.fold] else "face"',
        ),
        (
            "fabplan/bending/flat/steps.py",
            "check_deg=turned,\n        tool=tool.name",
            "check_deg=set_deg,\n        tool=tool.name",
        ),
        ("fabplan/bending/brake/steps.py", 'next((s for s in sides if s[0].end[0] != "bend"), sides[0])', "sides[0]"),
        ("fabplan/bending/brake/steps.py", "held < strip.width / 2 - 1 / 16", "held > strip.width / 2 - 1 / 16"),
        ("fabplan/bending/brake/steps.py", "packing=_underneath(", "packing=not _underneath("),
    ),
    "plan": (
        ("fabplan/plan/buy.py", "pulled = min(self.taken, hand or 0)", "pulled = max(self.taken, hand or 0)"),
        (
            "fabplan/plan/buy.py",
            "return money(Fraction(price.amount) * one * n)",
            "return money(Fraction(price.amount) * one * n / 2)",
        ),
        (
            "fabplan/plan/buy.py",
            "over = hand - pulled if hand is not None else 0",
            "over = hand + pulled if hand is not None else 0",
        ),
        (
            "fabplan/plan/handling.py",
            "carry = given.carry_limit if given.carry_limit is not None else given.lift_limit",
            "carry = given.lift_limit if given.lift_limit is not None else given.carry_limit",
        ),
        (
            "fabplan/plan/handling.py",
            "area = size[0] * size[1] / NM_PER_INCH**2",
            "area = 2 * size[0] * size[1] / NM_PER_INCH**2",
        ),
        ("fabplan/plan/handling.py", "pounds=n * p.weight, limit=carry", "pounds=p.weight, limit=carry"),
        (
            "fabplan/plan/forms.py",
            "return round(value * scale.grid / scale.nm, 9) + 0.0",
            "return round(value * scale.grid / scale.nm, 3) + 0.0",
        ),
        ("fabplan/plan/forms.py", 'raise UnfitError(f"{short(data)} is not on the shop\'s graduation")', "pass"),
        ("fabplan/plan/codec.py", "if data.keys() != self.keys:", "if not data.keys() >= self.keys:"),
        ("fabplan/plan/prove.py", "if said.round_to != int(job.info.round_to):", "if False:"),
        (
            "fabplan/plan/prove_cuts.py",
            "if plan.bound > min(least, plan.total) * (1 + _FLOAT):",
            "if plan.bound > max(least, plan.total) * (1 + _FLOAT):",
        ),
        (
            "fabplan/plan/check_buy.py",
            "pull = 0 if hand is None else min(taken.n, hand)",
            "pull = 0 if hand is None else taken.n",
        ),
    ),
    "plotter": (
        ("fabplan/plotter/sheet/sheet.py", 'pen = "cut" if m.cut.stage <= first else "edge"', 'pen = "edge"'),
        ("fabplan/plotter/sheet/sheet.py", "if not offcut.keep:", "if offcut.keep:"),
        (
            "fabplan/plotter/sheet/sheet.py",
            "per_inch = view.scale * 25_400_000 / grid",
            "per_inch = view.scale * 25_400_000 / grid / 2",
        ),
        ("fabplan/plotter/board/view.py", "return self.bottom + self.height", "return self.height"),
        ("fabplan/plotter/board/draft.py", "if self.taken.touches(box, slack):", "if False:"),
        (
            "fabplan/plotter/board/draft.py",
            "return over_leaders or not self.crossed.touches(box, slack)",
            "return True",
        ),
    ),
    "packet": (
        ("fabplan/packet/totals.py", "got[blank.mark] += layout.repeat", "got[blank.mark] += 1"),
        ("fabplan/packet/totals.py", "area=taken.area - blanks.area - kept.area,", "area=taken.area - blanks.area,"),
        ("fabplan/packet/totals.py", "area = squares * layout.repeat * inch * inch", "area = squares * inch * inch"),
        ("fabplan/packet/pages/cut_rows.py", "each=len(group),", "each=1,"),
        ("fabplan/packet/pages/cut_rows.py", "held=last.made.cut.held,", "held=0,"),
        ("fabplan/packet/output/files.py", "text) if isinstance(value, str) else text", "text) if False else text"),
        (
            "fabplan/packet/output/folder.py",
            "if inside and not mine(inside) and not _only_ours(target, mine):",
            "if False:",
        ),
        (
            "fabplan/packet/pages/cover.py",
            "sum(line.need.pounds for line in plan.buy)",
            "max(line.need.pounds for line in plan.buy)",
        ),
        ("fabplan/packet/check_totals.py", 'if not _weighs(row["Weight"], line.need.pounds, plan):', "if False:"),
    ),
    "shop": (
        ("fabplan/shop/sizes.py", "return n, full * (rows * along + panels * slant)", "return n, full * rows * along"),
        ("fabplan/shop/sizes.py", "return min(self.on, key=lambda o:", "return max(self.on, key=lambda o:"),
        ("fabplan/shop/compare.py", "square_inches=plan.stock_area * inch**2", "square_inches=plan.stock_area * inch"),
        ("fabplan/shop/compare.py", "return (1, 0, 0, c.name)", "return (-1, 0, 0, c.name)"),
        ("fabplan/shop/rack.py", 'if wanted is None or row["metal"] == wanted', "if True"),
    ),
    "commands": (
        (
            "fabplan/cli/shared.py",
            'if cut_plan is None or cut_plan.status != "short" or allow_short:',
            'if cut_plan is None or cut_plan.status == "short" or allow_short:',
        ),
        (
            "fabplan/cli/shared.py",
            "    if mark is not None and mark not in marks:\n",
            "    if mark is None and mark not in marks:\n",
        ),
        ("fabplan/cli/planning.py", "        refuse_short(cut_plan, False, the_job, lacking)\n", "        pass\n"),
    ),
}
