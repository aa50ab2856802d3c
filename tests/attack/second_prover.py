"""A second prover: a job file and its plan.json, replayed cut by cut, with nothing of the program.

It reads both files itself, rolls out the stock, makes every stroke with its kerf, and looks at what lies on the table.
"""

from __future__ import annotations

import math
import tomllib
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

Point = tuple[float, float]
Ring = list[Point]
NEAR = 2e-4  # inches: six decimals in the file, and sums of them
LENGTHS = {"in": Fraction(1), "ft": Fraction(12), "mm": Fraction(10, 254), "m": Fraction(10_000, 254)}
POUND = Fraction("0.45359237")


def length(value: Any, unit: str) -> Fraction:
    """A typed length in inches."""
    if not isinstance(value, str):
        return Fraction(str(value)) * LENGTHS[unit]
    number, _, name = value.partition(" ")
    whole, dash, part = number.partition("-")
    return ((Fraction(whole) + Fraction(part)) if dash else Fraction(number)) * LENGTHS[name]


class Second:
    """What the job file says, in inches; whole graduations are kept to the safe side."""

    def __init__(self, job: str, plan: dict[str, Any]) -> None:
        self.job, self.plan = tomllib.loads(job), plan
        self.unit = self.job["job"].get("units", "in")
        self.each = float(LENGTHS[self.unit])  # inches in one unit of the file
        self.step = Fraction(1, 32) if self.unit == "in" else Fraction(1, 2) * LENGTHS["mm"]
        shear = self.job.get("shear", {})
        self.longest = self.down(shear.get("longest_cut", "52 in"))
        self.reach = self.down(shear.get("back_gauge_reach", "48 in"))
        self.held = self.up(shear.get("least_held", "1 in"))
        self.kerf = self.up(shear.get("kerf", "0 in"))
        inches = self.unit == "in"
        self.gauged = self.up(shear.get("least_gauge", "1/2 in" if inches else "12 mm"))
        tolerance = length(shear.get("width_tolerance", "1/16 in" if inches else "1.5 mm"), self.unit)
        scribed = min(Fraction(self.gauged), max(Fraction(1, 8), tolerance))
        self.scribed = float(-(-scribed // self.step) * self.step)
        self.to_mark = shear.get("coil_cut_off", "scribed") == "scribed"
        self.stop = shear.get("angle_stop", [30, 150])
        self.stock = {s["name"]: s for s in self.job["stock"]}
        self.pieces = {p["mark"]: p for p in self.job["piece"]}
        self.blanks = {b["mark"]: b for b in plan["blanks"]}
        self.keep = sorted(self.up(k) for k in self.job["job"].get("keep_at_least", []))
        self.faults: list[str] = []

    def down(self, value: Any) -> float:
        return float(length(value, self.unit) // self.step * self.step)

    def up(self, value: Any) -> float:
        return float(-(-length(value, self.unit) // self.step) * self.step)

    def size(self, value: float) -> float:
        return value * self.each

    def say(self, fault: str) -> None:
        self.faults.append(fault)

    def run(self) -> list[str]:
        """All faults found."""
        nest = self.plan["nesting"]
        for mark, piece in self.pieces.items():
            self._asked(mark, piece)
        trees = [self._layout(n, y) for n, y in enumerate(nest["layouts"], start=1)]
        if not self.faults:
            self._counts(nest)
            self._stock(nest)
            self._program(nest, trees)
        return self.faults

    def _asked(self, mark: str, piece: dict[str, Any]) -> None:
        blank = self.blanks.get(mark)
        if blank is None:
            return self.say(f"{mark} has no blank")
        if "count" in piece and blank["count"] - blank["spare"] != piece["count"] * blank["parts"]:
            self.say(f"{mark}: {blank['count']} blanks for {piece['count']} pieces")
        if piece["kind"] == "rectangle":
            typed = [self.up(piece[k]) for k in ("width", "length")]
            if any(abs(self.size(blank[k]) - t) > NEAR for k, t in zip(("width", "length"), typed, strict=True)):
                self.say(f"{mark}: its blank is not the size typed")
        return None

    # one layout -----------------------------------------------------------------------------------------------

    def _layout(self, number: int, y: dict[str, Any]) -> list[int | None]:
        """Make its cuts; the cut that freed the metal of each."""
        where, line = f"layout {number}", self.stock.get(y["stock"])
        w, h = self.size(y["width"]), self.size(y["length"])
        if line is None or line["form"] != y["form"] or abs(w - self.down(line["width"])) > NEAR:
            self.say(f"{where}: it is not on the stock it names")
            return []
        coil = y["form"] == "coil"
        if coil and h > self.down(line.get("longest_cut_off", "120 in" if self.unit == "in" else "3000 mm")) + NEAR:
            self.say(f"{where}: longer than the longest cut-off")
        if not coil and abs(h - self.down(line["length"])) > NEAR:
            self.say(f"{where}: it is not as long as its stock")
        table: list[tuple[Ring, int | None]] = [([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)], None)]
        freed: list[int | None] = []
        own = [self._placed(b) or self._box(b) for b in y["blanks"]]
        for k, cut in enumerate(y["cuts"]):
            a, b = (tuple(self.size(v) for v in cut[end]) for end in ("from", "to"))
            if coil and k == 0:
                freed.append(None)
                self._cut_off(where, cut, a, b, w, h)
                table = [(table[0][0], 1)]
                continue
            if math.dist(a, b) > self.longest + NEAR:
                self.say(f"{where}, cut {k + 1}: longer than the blade")
            at = next((n for n, (ring, _) in enumerate(table) if self._across(ring, a, b)), None)
            if at is None:
                self.say(f"{where}, cut {k + 1}: not from edge to edge of a piece")
                return freed
            ring, parent = table.pop(at)
            freed.append(parent)
            near, far, deep = self._parted(ring, a, b)
            self._limits(f"{where}, cut {k + 1}", cut, (ring, near, far), (a, b), own)
            table += [(r, k + 1) for r, d in zip((near, far), deep, strict=True) if d > NEAR]
        self._what_lies_there(where, y, line, [ring for ring, _ in table])
        return freed

    def _cut_off(self, where: str, cut: dict[str, Any], a: Point, b: Point, w: float, h: float) -> None:
        ends = sorted([a, b])
        if (
            any(math.dist(p, q) > NEAR for p, q in zip(ends, [(0.0, h), (w, h)], strict=True))
            or w > self.longest + NEAR
        ):
            self.say(f"{where}: the panel is not cut off square, or the coil is too wide")
        gauge = None if cut["back_gauge"] is None else self.size(cut["back_gauge"])
        if self.to_mark != (gauge is None) or (gauge is not None and (abs(gauge - h) > NEAR or h > self.reach + NEAR)):
            self.say(f"{where}: the panel is cut off at the wrong stop")

    def _across(self, ring: Ring, a: Point, b: Point) -> bool:
        """Whether a stroke runs from edge to edge of a piece, or skims its edge with the saw's width in it."""
        ends = all(any(_off(p, q, end) <= 3 * NEAR for p, q in _sides(ring)) for end in (a, b))
        n, c = _normal(a, b)
        spread = [n[0] * x + n[1] * y - c for x, y in ring]
        inside = min(spread) < -NEAR and max(spread) > NEAR
        skims = self.kerf > 0 and max(spread) > NEAR and min(spread) >= -NEAR
        return ends and (inside or skims)

    def _parted(self, ring: Ring, a: Point, b: Point) -> tuple[Ring, Ring, tuple[float, float]]:
        n, c = _normal(a, b)
        near = _clip(ring, n, c)
        far = _clip(ring, (-n[0], -n[1]), -c - self.kerf)
        deep = (
            max((c - n[0] * x - n[1] * y for x, y in near), default=0.0),
            max((n[0] * x + n[1] * y - c - self.kerf for x, y in far), default=0.0),
        )
        return near, far, deep

    def _limits(
        self,
        where: str,
        cut: dict[str, Any],
        parted: tuple[Ring, Ring, Ring],
        ends: tuple[Point, Point],
        own: list[Ring],
    ) -> None:
        """The stop or the marks, and the metal held: as wide as the shop's least, or as a narrower blank itself."""
        ring, (a, b) = parted[0], ends
        n, c = _normal(a, b)
        sides: list[tuple[float, float]] = []  # how far a part reaches from the blade, and how much of it must be held
        for part, sign, start in ((parted[1], -1.0, c), (parted[2], 1.0, c + self.kerf)):
            deep = max((sign * (n[0] * x + n[1] * y - start) for x, y in part), default=0.0)
            inside = [r for r in own if len(part) > 2 and all(_beyond(p, q, _middle(r)) < 0 for p, q in _sides(part))]
            wide = [max(w) - min(w) for r in inside for w in [[n[0] * x + n[1] * y for x, y in r]]]
            sides.append((deep, min([self.held, *wide])))
        (below, grip_low), (above, grip_high) = sides
        gauge = None if cut["back_gauge"] is None else self.size(cut["back_gauge"])
        ways = [(below, above, grip_high), (above, below, grip_low)]
        dust = min(below, above) <= NEAR
        if dust:
            ways = [(max(below, above), max(below, above), self.held)]
        on_step = [w for w in ways if abs(w[0] / float(self.step) - round(w[0] / float(self.step))) < 0.01]
        can = [d for d, h, grip in on_step if self.gauged - NEAR <= d <= self.reach + NEAR and h >= grip - NEAR]
        if gauge is not None:
            good = any(abs(d - gauge) <= NEAR for d in can)
        else:
            good = not can and any(deep >= grip - NEAR for deep, grip in sides)
            good = good and (dust or min(below, above) >= self.scribed - 0.02 * float(self.step))
        if not good:
            self.say(f"{where}: its stop, or the metal held, is not what the shear allows")
        if cut["angle_deg"] != 90 and not self.stop[0] - 1e-3 <= cut["angle_deg"] <= self.stop[1] + 1e-3:
            self.say(f"{where}: beyond the angle stop")
        square = all(abs((q[0] - p[0]) * (q[1] - p[1])) < NEAR for p, q in [*_sides(ring), (a, b)])
        if cut["angle_deg"] == 90 and not square and not any(_right(p, q, a, b) for p, q in _sides(ring)):
            self.say(f"{where}: square to no edge of its piece")

    def _what_lies_there(self, where: str, y: dict[str, Any], line: dict[str, Any], left: list[Ring]) -> None:
        trim = self.up(line.get("trim_each_edge", "0 in"))
        ends = 0.0 if y["form"] == "coil" else trim
        w, h = self.size(y["width"]), self.size(y["length"])
        for b in y["blanks"]:
            blank = self.blanks.get(b["mark"])
            if blank is None or blank["metal"] != line.get("metal", self.job["metal"]["use"]):
                self.say(f"{where}: nobody asked for {b['mark']}")
                continue
            made = [n for n, ring in enumerate(left) if self._is_it(ring, b, blank, line)]
            if not made:
                self.say(f"{where}: the cuts do not make {b['mark']} at ({b['x']}, {b['y']})")
                continue
            ring = left.pop(made[0])
            shape = self._placed(b) or ring
            xs, ys = [p[0] for p in shape], [p[1] for p in shape]
            inside = min(xs) >= trim - NEAR and max(xs) <= w - trim + NEAR
            if not (inside and min(ys) >= ends - NEAR and max(ys) <= h - ends + NEAR):
                self.say(f"{where}: {b['mark']} lies in the edge to be trimmed")
        for o in y["offcuts"]:
            x, z, ow, oh = (self.size(o[k]) for k in ("x", "y", "width", "length"))
            box = [(x, z), (x + ow, z), (x + ow, z + oh), (x, z + oh)]
            mine = [n for n, ring in enumerate(left) if _same(ring, box)]
            if not mine:
                self.say(f"{where}: an offcut is listed that is not there")
                continue
            left.pop(mine[0])
            short, long = sorted((ow, oh))
            good = bool(self.keep) and short >= self.keep[0] - NEAR and long >= self.keep[1] - NEAR
            if good != o["keep"]:
                self.say(f"{where}: an offcut is kept or binned against the rule")

    def _placed(self, b: dict[str, Any]) -> Ring | None:
        return None if b["outline"] is None else [(self.size(x), self.size(z)) for x, z in b["outline"]]

    def _box(self, b: dict[str, Any]) -> Ring:
        x, z, w, h = (self.size(b[k]) for k in ("x", "y", "width", "length"))
        return [(x, z), (x + w, z), (x + w, z + h), (x, z + h)]

    def _is_it(self, ring: Ring, b: dict[str, Any], blank: dict[str, Any], line: dict[str, Any]) -> bool:
        """Whether a piece on the table is the blank: its size or its outline, the way it may lie."""
        box = self._box(b)
        (x, z), (bw, bh) = box[0], (self.size(b["width"]), self.size(b["length"]))
        own = [(self.size(p[0]), self.size(p[1])) for p in blank["outline"]]
        drawn = self._placed(b)
        if drawn is None:
            size = (self.size(blank["width"]), self.size(blank["length"]))
            good = (
                _same(ring, box)
                and max(abs(u - v) for u, v in zip((bw, bh), size[::-1] if b["turned"] else size, strict=True)) <= NEAR
            )
            turned = 90.0 if b["turned"] else 0.0
        else:
            angle = _turn(own, drawn)
            if angle is None:
                return False
            turned = angle
            spread = [min(p[k] for p in drawn) - at for k, at in enumerate((x, z))]
            spread += [at - max(p[k] for p in drawn) for k, at in enumerate((x + bw, z + bh))]
            boxed = all(-NEAR <= off < 2 * float(self.step) for off in spread)
            good = boxed and self._made(ring, box, _hull(drawn), b)
        return good and self._lies(b["mark"], blank, turned, line, drawn is None and abs(bw - bh) <= NEAR)

    def _made(self, ring: Ring, box: Ring, wanted: Ring, b: dict[str, Any]) -> bool:
        """Whether a piece is a slanted blank: its box where that is told, else its sides, less than a step proud."""
        if b.get("boxed"):
            return _same(ring, box)
        proud = all(_beyond(p, q, at) < float(self.step) for p, q in _sides(wanted) for at in ring)
        return proud and all(_beyond(p, q, at) <= 3 * NEAR for p, q in _sides(ring) for at in wanted)

    def _lies(self, mark: str, blank: dict[str, Any], turned: float, line: dict[str, Any], square: bool) -> bool:
        piece = self.pieces.get(mark, {})
        quarter, off = round(turned / 90), abs(turned - 90 * round(turned / 90))
        if piece.get("may_turn") is False:
            return square or (off < 0.01 and quarter % 2 == 0)
        if blank["grain"] == "any" or square:
            return True
        across = line.get("grain", "along") == "across"
        return off < 0.01 and (quarter % 2 == 1) == ((blank["grain"] == "along") == across)

    # the whole plan -------------------------------------------------------------------------------------------

    def _counts(self, nest: dict[str, Any]) -> None:
        made = Counter({s["mark"]: s["missing"] if "missing" in s else s["count"] for s in nest["short"]})
        for y in nest["layouts"]:
            for b in y["blanks"]:
                made[b["mark"]] += y["repeat"]
        for mark, b in self.blanks.items():
            if made[mark] != b["count"]:
                self.say(f"{mark}: {made[mark]} made or missed of {b['count']}")

    def _stock(self, nest: dict[str, Any]) -> None:
        used: Counter[str] = Counter()
        for y in nest["layouts"]:
            run = self.size(y["length"]) + self.kerf if y["form"] == "coil" else 1
            used[y["stock"]] += y["repeat"] * run  # type: ignore[assignment]
        total = 0.0
        listed = {s["name"]: s for s in nest["stock"]}
        if set(listed) != set(used):
            self.say("the stock listed is not the stock used")
        for name, amount in used.items():
            line, coil = self.stock[name], self.stock[name]["form"] == "coil"
            width = self.down(line["width"])
            area = width * (amount if coil else amount * self.down(line["length"]))
            have = line.get("on_hand", 1 if line["form"] == "offcut" else None)
            if isinstance(have, str):
                have = float(length(have, self.unit))
            if have is not None and amount > have + NEAR:
                self.say(f"{name}: {amount} taken of {have}")
            if nest["objective"] == "area":
                total += 0.0 if line["form"] == "offcut" else area
            elif "price" in line:
                amount_, _, per = line["price"].partition(" per ")
                pounds = listed[name]["weight"] if name in listed else 0.0
                pounds /= float(POUND) if self.unit == "mm" else 1.0
                each = {"lb": pounds, "kg": pounds * float(POUND), "sheet": amount, "piece": amount}
                total += float(amount_) * each[per]
        said = nest.get("metal_total", nest["total"]) * (self.each**2 if nest["objective"] == "area" else 1)
        if abs(said - total) > 1e-3 * max(1.0, total):
            self.say(f"the metal costs {total}, not {said}")
        if not nest["short"] and (nest["bound"] > nest["total"] * (1 + 1e-9)):
            self.say("the proven least is above the plan")
        for rival in nest["rivals"]:
            if rival["total"] is not None and rival["total"] < nest["bound"] * (1 - 1e-6) and not nest["short"]:
                self.say("another way of cutting costs less than the proven least")

    def _program(self, nest: dict[str, Any], trees: Sequence[list[int | None]]) -> None:
        done: list[set[int]] = [set() for _ in nest["layouts"]]
        program = nest["shear_program"]
        for step in program["steps"] if program else ():
            for item in step["cuts"]:
                layout, made = nest["layouts"][item["layout"] - 1], done[item["layout"] - 1]
                if item["times"] != layout["repeat"]:
                    self.say(f"step {step['step']}: cut {item['times']} times, not {layout['repeat']}")
                for k in item["steps"]:
                    cut, parent = layout["cuts"][k - 1], trees[item["layout"] - 1][k - 1]
                    if (cut["back_gauge"], cut["angle_deg"]) != (step["back_gauge"], step["angle_deg"]):
                        self.say(f"step {step['step']}: cut {k} has another setting")
                    if k in made or (parent is not None and parent not in made and parent not in item["steps"]):
                        self.say(f"step {step['step']}: cut {k} is made twice, or before its metal is free")
                    made.add(k)
        if program and any(len(m) != len(y["cuts"]) for m, y in zip(done, nest["layouts"], strict=True)):
            self.say("the program leaves cuts out")


def second_faults(job: str, plan: dict[str, Any]) -> list[str]:
    """Faults the second prover finds in a plan of a job."""
    return Second(job, plan).run() if plan.get("nesting") is not None else []


# plane geometry -------------------------------------------------------------------------------------------------


def _sides(ring: Sequence[Point]) -> list[tuple[Point, Point]]:
    return [(p, q) for p, q in zip(ring, [*ring[1:], ring[0]], strict=True) if math.dist(p, q) > NEAR / 4]


def _normal(a: Point, b: Point) -> tuple[Point, float]:
    """Unit normal to the right of a stroke, and its offset: the saw's width lies on that side."""
    run = math.dist(a, b) or 1.0
    n = ((b[1] - a[1]) / run, (a[0] - b[0]) / run)
    return n, n[0] * a[0] + n[1] * a[1]


def _clip(ring: Ring, n: Point, c: float) -> Ring:
    out: Ring = []
    for p, q in zip(ring, [*ring[1:], ring[0]], strict=True):
        u, v = n[0] * p[0] + n[1] * p[1] - c, n[0] * q[0] + n[1] * q[1] - c
        if u <= 0:
            out.append(p)
        if (u < 0 < v) or (v < 0 < u):
            t = u / (u - v)
            out.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])))
    return out


def _middle(ring: Ring) -> Point:
    xs, ys = [p[0] for p in ring], [p[1] for p in ring]
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def _off(p: Point, q: Point, at: Point) -> float:
    """Distance of a point from a segment."""
    run = math.dist(p, q)
    t = min(max(((at[0] - p[0]) * (q[0] - p[0]) + (at[1] - p[1]) * (q[1] - p[1])) / run**2, 0.0), 1.0)
    return math.dist(at, (p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])))


def _beyond(p: Point, q: Point, at: Point) -> float:
    """How far a point lies to the right of the line p to q: outside a counter-clockwise ring."""
    return ((q[1] - p[1]) * (at[0] - p[0]) - (q[0] - p[0]) * (at[1] - p[1])) / math.dist(p, q)


def _right(p: Point, q: Point, a: Point, b: Point) -> bool:
    dot = (q[0] - p[0]) * (b[0] - a[0]) + (q[1] - p[1]) * (b[1] - a[1])
    touches = min(_off(p, q, a), _off(p, q, b)) <= 3 * NEAR
    return touches and abs(dot) <= 1e-4 * math.dist(p, q) * math.dist(a, b)


def _same(one: Ring, other: Ring) -> bool:
    def near(a: Ring, b: Ring) -> bool:
        return all(any(math.dist(p, q) <= 3 * NEAR for q in b) for p in a)

    return near(one, other) and near(other, one)


def _turn(own: Ring, placed: Ring) -> float | None:
    """Degrees that turn an outline onto another without turning it over."""
    if len(own) != len(placed):
        return None
    angle = math.atan2(placed[1][1] - placed[0][1], placed[1][0] - placed[0][0]) - math.atan2(
        own[1][1] - own[0][1], own[1][0] - own[0][0]
    )
    c, s = math.cos(angle), math.sin(angle)
    dx, dy = placed[0][0] - c * own[0][0] + s * own[0][1], placed[0][1] - s * own[0][0] - c * own[0][1]
    moved = [(c * x - s * y + dx, s * x + c * y + dy) for x, y in own]
    return math.degrees(angle) % 360 if max(map(math.dist, moved, placed)) <= 10 * NEAR else None


def _hull(points: Ring) -> Ring:
    ordered = sorted(points)

    def half(run: Ring) -> Ring:
        chain: Ring = []
        for p in run:
            while (
                len(chain) > 1
                and (
                    (chain[-1][0] - chain[-2][0]) * (p[1] - chain[-2][1])
                    - (chain[-1][1] - chain[-2][1]) * (p[0] - chain[-2][0])
                )
                <= 1e-9
            ):
                chain.pop()
            chain.append(p)
        return chain[:-1]

    return half(ordered) + half(ordered[::-1])
