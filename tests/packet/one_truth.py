"""Every number of a packet with its subject, so that what two pages say of one thing can be compared to the digit.

Read from the words and drawings that are printed, never from the plan.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from fabplan.packet.check_read import read_numbers
from fabplan.packet.model import Band, Block, Packet, Page, Para, Picture, Shots, Table, flat
from fabplan.plotter.board.callouts import NUMBER_SIZE
from fabplan.plotter.board.measure import extent
from fabplan.plotter.model import Text

LEVEL, BESIDE = 0.3, 5.0  # mm between the lines of a setting and its cut's number, and along them
Subject = tuple[str, ...]
Told = dict[Subject, dict[str, list[str]]]  # of every subject: what is printed, and where
NUMBER = r"(?:\d[\d,]*(?:\.\d+)?(?: \d+⁄\d+)?|\d+⁄\d+)"
SIZE = re.compile(rf"({NUMBER}) × ({NUMBER})")
WORDS = re.compile(r"(\d[\d,]*) × ([^,]+?)(?: \(.*?\))?(?:,| and |\.|$)")


class Truth:
    """What is told of every subject."""

    def __init__(self) -> None:
        self.told: Told = defaultdict(lambda: defaultdict(list))

    def note(self, subject: Subject, said: str, where: str) -> None:
        """One printed number of a subject."""
        self.told[subject][re.sub(r" (?:in|mm)$", "", said.replace("\u00a0", " ").strip())].append(where)

    def unlike(self) -> list[str]:
        """Subjects of which two places say different things."""
        return [
            f"{' '.join(subject)}: "
            + "; ".join(f"{said} ({', '.join(dict.fromkeys(at))})" for said, at in said_of.items())
            for subject, said_of in self.told.items()
            if len(said_of) > 1
        ]

    def twice(self) -> int:
        """Subjects told in two places or more."""
        return sum(sum(map(len, said.values())) > 1 for said in self.told.values())


def collected(packet: Packet) -> Truth:
    """All that the pages say."""
    truth = Truth()
    for page in packet.pages:
        blocks = list(flat(page.blocks))
        for table in (b for b in blocks if isinstance(b, Table)):
            _table(truth, page, table)
        {"shear": _layout, "piece": _piece, "roof": _slope, "cover": _cover}.get(page.kind, _nothing)(
            truth, page, blocks
        )
    return truth


def _nothing(truth: Truth, page: Page, blocks: Sequence[Block]) -> None:
    pass


def texts(picture: Picture) -> list[str]:
    """Words of a drawing in the order they were drawn."""
    return [mark.text for mark in picture.drawing.marks if isinstance(mark, Text)]


def rows(table: Table) -> Iterator[Mapping[str, str]]:
    """Rows by column title; columns of one title are counted."""
    titles: list[str] = []
    for column in table.columns:
        titles.append(column.title + "+" * titles.count(column.title))
    return (dict(zip(titles, row, strict=True)) for row in table.rows)


def _two(size: str) -> str:
    """Two sides of a rectangle, the shorter first."""
    found = SIZE.search(size)
    return " × ".join(sorted(found.groups(), key=lambda s: (len(s), s))) if found else size


def _table(truth: Truth, page: Page, table: Table) -> None:
    """Tables that stand on several pages."""
    at = page.title
    for row in rows(table):
        if table.name == "Stock to pull and to buy":
            for title in ("Needed", "Pull", "Buy", "Order", "Weight", "To pay"):
                if row.get(title):
                    truth.note(("stock", row["Stock"], title), row[title], at)
        if table.name == "Cut list" and row["Mark"] != "All":
            truth.note(("made", row["Mark"]), row["Make"], at)
            truth.note(("weight of all", row["Mark"]), row["Weight"], at)
            truth.note(("blank", row["Mark"]), _two(row["Sheared size"]), at)
        if table.name == "Cut list" and row["Mark"] == "All":
            truth.note(("pieces",), row["Make"], at)
        if table.name == "Set-up sheet":
            for words in row["Strokes: piece, steps"].split("; "):
                mark, _, steps = words.rpartition(": ")
                for step in read_numbers(steps):
                    if row["Stop or depth"] != "–":
                        truth.note(("stop", mark, str(step)), row["Stop or depth"].split(" to ")[0], at)
                    truth.note(("set", mark, str(step)), row["Set"], at)
        if table.name == "Hours" and row["Station"] == "Shear":
            truth.note(("hours at the shear",), row["About"], at)
        if table.name == "Other ways of cutting the same job" and row["Way"] == "This plan":
            truth.note(("metal and work",), next(v for k, v in row.items() if k not in ("Way", "Remark")), at)


def _cover(truth: Truth, page: Page, blocks: Sequence[Block]) -> None:
    for block in blocks:
        if isinstance(block, Para):
            for start, subject in (("Together: ", "metal and work"), ("Metal cost: ", "metal and work")):
                found = re.search(rf"{start}([A-Z]+ [\d,.]+\d)", block.text)
                if found:
                    truth.note((subject,), found[1], page.title)
            found = re.search(r"Work at the shear: .*?\(([\d.,]+ (?:h|min|s))\)", block.text)
            if found:
                truth.note(("hours at the shear",), found[1], page.title)
    for name, said in (
        pair for b in blocks if hasattr(b, "rows") and not isinstance(b, Table | Shots) for pair in b.rows
    ):
        if name == "To make":
            truth.note(("pieces",), said.split(" ")[0], page.title)


def _layout(truth: Truth, page: Page, blocks: Sequence[Block]) -> None:
    """A cutting layout: pull, cuts, what single pieces measure."""
    at = page.title
    number = re.search(r"layout (\d+)", at)[1]  # type: ignore[index]
    words = [b.text for b in blocks if isinstance(b, Para)]
    pulled = next((m for w in words for m in [re.search(rf"wide, ({NUMBER})(?: in| mm)? long", w)] if m), None)
    if pulled:
        truth.note(("pull", number), pulled[1], at)
    for table in (b for b in blocks if isinstance(b, Table) and b.columns[0].title == "Cut"):
        for row in rows(table):
            if row["Put in"].startswith("off the coil"):
                truth.note(("pull", number), row["Gauge"], f"{at}, table")
            for step in read_numbers(row["Cut"]) if row["Gauge"] else ():
                truth.note(("cut", number, str(step)), row["Gauge"], f"{at}, table")
            for column in ("What comes off", "Left on the table"):
                left = re.fullmatch(rf"({NUMBER} × {NUMBER})(?: each)?: (\S+)", row[column])
                if left and left[2] != "scrap":
                    truth.note(("blank", left[2]), _two(left[1]), f"{at}, table")
    for shots in (b for b in blocks if isinstance(b, Shots)):
        for shot in shots.shots:
            gauge, _, stop = shot.sets.removesuffix(" and scribed points").partition("   ")
            for step in read_numbers(shot.title):
                truth.note(("cut", number, str(step)), gauge, f"{at}, picture of the cut")
                angle = stop.split("°")[0] + "°" if stop else "scribed" if gauge != "scribed points" else ""
                if angle:
                    truth.note(("angle", number, str(step)), angle, f"{at}, picture of the cut")
    for picture in (b for b in blocks if isinstance(b, Picture)):
        _sheet(truth, number, picture, f"{at}, picture")


def _sheet(truth: Truth, number: str, picture: Picture, at: str) -> None:
    """The large picture: settings beside cut numbers, the pull, sizes under marks."""
    marks = [mark for mark in picture.drawing.marks if isinstance(mark, Text)]
    for one, two in pairwise(marks):
        if SIZE.fullmatch(two.text) and not re.fullmatch(NUMBER, one.text):
            truth.note(("blank", one.text), _two(two.text), at)
    spans = re.compile(r"\d+(?:–\d+)?(?:, \d+(?:–\d+)?)*")
    numbers = [mark for mark in marks if mark.size == NUMBER_SIZE and spans.fullmatch(mark.text)]
    for mark in marks:
        pull = re.fullmatch(rf"({NUMBER}) off the coil", mark.text)
        setting = re.fullmatch(rf"({NUMBER})(?: at ([\d.]+°)|, (scribed))?", mark.text)
        if pull:
            truth.note(("pull", number), pull[1], at)
        beside = [(_gap(mark, other), other.text) for other in numbers if other is not mark]
        gap, steps = min(beside, default=(99.0, ""))
        if setting and mark.bold and mark.size != NUMBER_SIZE and gap < BESIDE:
            for step in read_numbers(steps):
                truth.note(("cut", number, str(step)), setting[1], at)
                if setting[2] or setting[3]:
                    truth.note(("angle", number, str(step)), setting[2] or setting[3], at)


def _gap(setting: Text, number: Text) -> float:
    """Paper in mm between a setting and a cut's number on its line; much where they stand on other lines."""
    one, two = ([x for x, _ in extent(t)] for t in (setting, number))
    if setting.turned or number.turned or abs(setting.at[1] - number.at[1]) > LEVEL or not number.bold:
        return 99.0
    return max(min(one) - max(two), min(two) - max(one), 0.0)


def _piece(truth: Truth, page: Page, blocks: Sequence[Block]) -> None:
    """A piece: blank, weight, folds and strokes."""
    mark, _, rest = page.title.partition(": ")
    at = page.title
    made = re.search(r"make ([\d,]*\d)", rest)
    if made:
        truth.note(("made", mark), made[1], at)
    _words_of_piece(truth, mark, at, blocks)
    for table in (b for b in blocks if isinstance(b, Table)):
        for row in rows(table):
            if table.name.startswith("Fold lines"):
                wide = re.search(rf"hem ({NUMBER}) to the (face|back)", row["Fold"])
                for edge in row["Edge"].split(", "):
                    if wide:
                        truth.note(("hem", mark, edge), f"{wide[1]} {wide[2]}", f"{at}, fold lines")
            if table.name.startswith("Corners to snip"):
                for corner in row["Corner"].split(", "):
                    truth.note(("snip", mark, corner), f"{row['First']} × {row['Second']}", f"{at}, snips")
    for picture in (b for b in blocks if isinstance(b, Picture)):
        said = texts(picture)
        for words in said:
            hem = re.fullmatch(rf"([\d, ]+): .*hem ({NUMBER}) to the (face|back)", words)
            for edge in hem[1].split(", ") if hem else ():
                truth.note(("hem", mark, edge), f"{hem[2]} {hem[3]}", f"{at}, finished")  # type: ignore[index]
    _strokes(truth, mark, at, blocks)


def _words_of_piece(truth: Truth, mark: str, at: str, blocks: Sequence[Block]) -> None:
    """Blank, weight and shared settings, in words."""
    for text in (b.text for b in blocks if isinstance(b, Para)):
        sheared = re.match(rf"Shear ({NUMBER} × {NUMBER})", text)
        within = re.match(rf"Shear to the outline drawn, which lies within ({NUMBER} × {NUMBER})", text)
        for found in (sheared, within):
            if found:
                truth.note(("blank", mark), _two(found[1]), at)
        weight = re.search(r"weight ([\d,.]+ \w+) each, ([\d,.]+ \w+) in all", text)
        if weight:
            truth.note(("weight of all", mark), weight[2], at)
        for shared in re.finditer(
            rf"Steps? ([\d, and–]+?) share one setting of [^:]+: ({NUMBER})(?: \w+)?, ([\d.]+°)", text
        ):
            for step in map(int, re.findall(r"\d+", shared[1])):
                truth.note(("stop", mark, str(step)), shared[2], f"{at}, in words")
                truth.note(("set", mark, str(step)), shared[3], f"{at}, in words")


def _strokes(truth: Truth, mark: str, at: str, blocks: Sequence[Block]) -> None:
    """Settings of the cards, and what their pictures say of the fold."""
    for band in (b for b in blocks if isinstance(b, Band)):
        for name, value in band.settings:
            if re.match(r"(Stop|Depth|Measure) from", name):
                truth.note(("stop", mark, band.number), value, f"{at}, stroke {band.number}")
            if name in ("Turn", "Set") and value != "closed":
                truth.note(("set", mark, band.number), value, f"{at}, stroke {band.number}")
        for picture in band.pictures:
            for words in texts(picture):
                turned = re.fullmatch(r"fold UP,? ?(?:turned )?([\d.]+°)", words)
                angle = dict(band.settings).get("Reads") or dict(band.settings).get("Turn")
                if turned and angle and angle != "closed":
                    truth.note(("turned", mark, band.number), turned[1], f"{at}, picture of stroke {band.number}")
                    truth.note(("turned", mark, band.number), angle, f"{at}, stroke {band.number}")


def _slope(truth: Truth, page: Page, blocks: Sequence[Block]) -> None:
    """Courses, edges and counts of slopes, from the pictures, the course tables, the kits and the edges."""
    at = page.title
    for table in (b for b in blocks if isinstance(b, Table)):
        for row in rows(table):
            if table.name == "Pieces by slope (each)" and row["Slope"] != "all":
                truth.note(("pieces of slope", row["Slope"]), row["Pieces"], at)
            if table.name == "Edges by length" and row["Edge"] in ("eave", "rake"):
                slope = row["Where"].rpartition(",")[0]
                truth.note(("edge", slope, row["Edge"]), row["Length"], f"{at}, edges")
            if table.name == "What differs":
                for name, value in row.items():
                    if name in ("Eave", "Rake") and value:
                        truth.note(("edge", row["Slope"], name.lower()), value, f"{at}, what differs")
    courses = [b for b in blocks if isinstance(b, Table) and b.name.startswith("Courses of ")]
    names = [name for table in courses for name in re.split(r", | and ", table.name.removeprefix("Courses of "))]
    for table in courses:
        for row in rows(table):
            for name in names:
                if row["Course"] == "all" and "All" in row:
                    truth.note(("pieces of slope", name), row["All"], f"{at}, courses")
                elif (
                    row["Course"] != "all"
                    and row[table.columns[1].title]
                    and not row[table.columns[1].title].startswith("(")
                ):
                    truth.note(("line", name, row["Course"]), row[table.columns[1].title], f"{at}, courses")
        for title in (c.title for c in table.columns):
            sums = [row[title] for row in rows(table) if row["Course"] == "all"]
            each = re.fullmatch(r"(\d+) pieces", sums[0]) if sums else None
            for name in re.split(r", | and ", title) if each else ():
                if name in names:
                    truth.note(("pieces of slope", name), each[1], f"{at}, courses")  # type: ignore[index]
    for picture in (b for b in blocks if isinstance(b, Picture)):
        said = texts(picture)
        if "snap" not in " ".join(said) or not names:
            continue
        lines = said[: said.index("0", 1) if "0" in said[1:] else 0]
        snapped = [row for table in courses for row in rows(table)][::-1]
        wanted = [row[courses[0].columns[1].title] for row in snapped if row["Course"] != "all"]
        wanted = [line for line in wanted if line not in ("", "no line") and not line.startswith("(")]
        for n, (one, two) in enumerate(zip(lines, wanted, strict=False)):
            truth.note(("snapped line", names[0], str(n)), one, f"{at}, picture")
            truth.note(("snapped line", names[0], str(n)), two, f"{at}, courses")
        truth.note(("snapped lines", names[0]), str(len(lines)), f"{at}, picture")
        truth.note(("snapped lines", names[0]), str(len(wanted)), f"{at}, courses")
