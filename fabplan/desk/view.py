"""What the page shows, as HTML: every string of the job is escaped by the templates or by the packet's own words."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup, escape

from fabplan.desk.board import Board, Facts, entry_name
from fabplan.desk.desk import CheckedText, Desk, entries
from fabplan.desk.faults import PlacedFault
from fabplan.desk.fields import Field, every, fields_of, model_of, note_of
from fabplan.desk.figures import Figures, figures
from fabplan.errors import FabplanError, visible
from fabplan.job.edit_toml import at, table_text
from fabplan.job.files import source_of
from fabplan.job.kinds import KINDS
from fabplan.job.lines import Path
from fabplan.job.load import shop_of
from fabplan.job.merge import ARRAYS, TABLES
from fabplan.job.slopes import SHAPE_KEYS
from fabplan.job.values import word
from fabplan.speech.format import paper

# Name on the page of each table, by what it is for.
CONTENTS: Final = (
    ("What to make", (("job", "Job"), ("metal", "Metal"), ("piece", "Pieces"), ("slope", "Slopes"), ("roof", "Roof"))),
    ("What there is", (("stock", "Stock"), ("shear", "Shear"), ("brake", "Brake"), ("hem_tool", "Hem tools"))),
    ("What is done", (("done", "Cut and made"), ("laid", "Laid"))),
    ("How this shop works", (("labour", "Times"), ("spread", "Spread"), ("handling", "Lifting"), ("nest", "Search"))),
    ("And then", (("plan", "Plan"), ("text", "The file"))),
)
TITLES: Final = {name: title for _, group in CONTENTS for name, title in group}
ONE: Final = {
    "piece": "piece",
    "slope": "slope",
    "stock": "stock line",
    "hem_tool": "hem tool",
    "laid": "slope laid in part",
}
WHAT: Final = {
    "piece": ("kind", tuple(KINDS)), "stock": ("form", ("coil", "sheet", "offcut")),
    "slope": ("shape", tuple(SHAPE_KEYS)),
}  # fmt: skip
STATIONS: Final = {"office": "Office", "shear": "Shear", "bench": "Bench", "brake": "Brake", "roof": "Roof"}
_CODE = re.compile(r"`([^`]*)`|\*\*([^*]*)\*\*")
_PART = re.compile(r"[\w-]{1,80}")


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedEntry:
    """An entry in a list: where it opens, its name, and what it is in a line."""

    at: str
    name: str
    says: str
    faults: int = 0
    shop: bool = False


def parse_path(text: str) -> Path:
    """A place as the page names it: ``piece.3.start_hem``."""
    parts = text.split(".") if text else []
    if len(parts) > 8 or not all(_PART.fullmatch(part) for part in parts):
        return ()
    return tuple(int(part) if part.isdigit() and len(part) < 5 else part for part in parts)


class Views:
    """Pages and parts of pages of one desk."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._pages = Environment(
            loader=PackageLoader("fabplan.desk", "pages"),
            autoescape=select_autoescape(default=True, default_for_string=True),
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._pages.filters["words"] = _words
        self._pages.filters["plain"] = visible
        self._pages.filters["capital"] = lambda html: Markup(html[:1].upper()) + html[1:]

    # -- the page -----------------------------------------------------------------------------------------------------

    def page(self, at_: str, nonce: str) -> str:
        """The whole page, open at a table; at "" where a newcomer begins."""
        document = self.desk.document
        data = document.data()
        here = self._open_at(at_, data)
        form = here if here[:1] not in (("plan",), ("text",)) else ()
        checked = self.desk.check(document.text, form)
        table = str(here[0])
        more = {"plan": self._plan, "text": self._text}.get(table, self._form)(here, data, checked)
        style = more.pop("style", "")
        return self._pages.get_template(f"{more['page']}.html").render(
            **self._frame(here, data, checked), nonce=nonce, style=Markup(style), **more
        )

    def _open_at(self, at_: str, data: dict[str, Any] | None) -> Path:
        here = parse_path(at_)
        if data is None and here[:1] != ("plan",):
            return ("text",)
        table = here[0] if here else "job"
        if table in ("plan", "text"):
            return (table,)
        if table not in (*TABLES, *ARRAYS):
            return ("job",)
        if table in ARRAYS and len(here) > 1 and isinstance(here[1], int) and here[1] < len(entries(data, str(table))):
            return here[:2]
        return (table,)

    def _frame(self, here: Path, data: dict[str, Any] | None, checked: CheckedText) -> dict[str, Any]:
        document = self.desk.document
        job = data.get("job") if data else None
        job = job if isinstance(job, dict) else {}
        counts = {table: len(entries(data, table)) for table in ARRAYS}
        return {
            "job_name": str(job.get("name", "")) or "A job without a name", "number": str(job.get("number", "")),
            "file": document.shown, "version": document.version, "steps": document.steps, "contents": CONTENTS,
            "here": ".".join(map(str, here)), "table": str(here[0]), "counts": counts,
            "sections": checked.sections(), "changed": document.changed_outside(), "serial": checked.serial,
            "going": self.desk.run.going,
        }  # fmt: skip

    def _form(self, here: Path, data: dict[str, Any] | None, checked: CheckedText) -> dict[str, Any]:
        table = str(here[0])
        beside, style = self.board(checked.board)
        common = {"board": beside, "style": style, "title": TITLES[table], "told": self._told(checked, here)}
        if table in ARRAYS and len(here) == 1:
            return {
                "page": "list", "rows": self._rows(table, data, checked), "one": ONE[table], "what": WHAT.get(table),
                "note": note_of(table, None), "named": ARRAYS[table], **common,
            }  # fmt: skip
        value = at(data, here)
        value = value if isinstance(value, dict) else {}
        fields = self.fields(here)
        name = entry_name(table, value)
        model = model_of(table, value)
        faults = self.faults_by_field(checked.faults, here, fields)
        return {
            "page": "form", "fields": fields, "faults": faults, "note": note_of(table, model), "entry": len(here) > 1,
            "heading": f"{ONE[table].capitalize()} {name}".strip() if len(here) > 1 else TITLES[table],
            "one": ONE.get(table, ""), "named": ARRAYS.get(table, ""),
            "lines": table_text(self.desk.document.text, here) or "", **common,
        }  # fmt: skip

    def _rows(self, table: str, data: dict[str, Any] | None, checked: CheckedText) -> list[ListedEntry]:
        said = {}
        if checked.job is not None:
            from fabplan.job.summary import said_rows

            said = dict(said_rows(checked.job))
        bad = [f.path[1] for f in checked.faults if f.path[:1] == (table,) and len(f.path) > 1]
        rows = []
        for n, entry in enumerate(entries(data, table)):
            name = entry_name(table, entry)
            says = said.get(f"{table} {name}") or ", ".join(
                f"{k} {v}" for k, v in entry.items() if isinstance(v, str) and k != ARRAYS[table]
            )
            rows.append(ListedEntry(at=f"{table}.{n}", name=name or f"{n + 1}", says=says[:300], faults=bad.count(n)))
        own = {row.name.casefold() for row in rows}
        shop = self._shop()
        for entry in entries(shop, table):
            name = entry_name(table, entry)
            if name.casefold() not in own:
                rows.append(ListedEntry(at="", name=name, says=said.get(f"{table} {name}", ""), shop=True))
        return rows

    def _shop(self) -> dict[str, Any] | None:
        """What the shop file says; None when there is none, or it cannot be read."""
        document = self.desk.document
        try:
            shop = shop_of(source_of(document.text, document.folder, document.shown, "job file", go_on=True))
        except FabplanError:
            return None
        return None if shop is None else shop.data

    def fields(self, here: Path) -> tuple[Field, ...]:
        """Every key of the table at a place."""
        data = self.desk.document.data()
        table = str(here[0]) if here else ""
        if table not in (*TABLES, *ARRAYS) or (table in ARRAYS and len(here) != 2):
            return ()
        value = at(data, here)
        value = value if isinstance(value, dict) else {}
        shop_data = self._shop() or {}
        shop: Any = shop_data.get(table)
        if table in ARRAYS:
            name = entry_name(table, value).casefold()
            shop = next((e for e in entries(shop_data, table) if entry_name(table, e).casefold() == name), None)
        shop = shop if isinstance(shop, dict) else {}
        model = model_of(table, {**shop, **value})
        if model is None:  # a piece of no known kind: its kind, then the rest as it stands
            from fabplan.job.kinds.base import PieceBase
            from fabplan.job.reference import KeyWords

            words = KeyWords(key="kind", value="", default="**needed**", meaning="What it is.", needed=True)
            kind = Field(path=(*here, "kind"), words=words, way="choice", choices=tuple(KINDS), up=True)
            rest = {k: v for k, v in value.items() if k != "kind"}
            return (kind, *fields_of(here, PieceBase, rest, shop))
        found = fields_of(here, model, value, shop)
        if here == ("job",):
            found = (*found, *_shop_field(data))
        return found

    # -- beside the form ----------------------------------------------------------------------------------------------

    def faults_by_field(
        self, faults: Sequence[PlacedFault], here: Path, fields: Sequence[Field]
    ) -> dict[str, list[str]]:
        """Faults of the open table by the name of their field; those of no field under ""."""
        names = {f.path: f.name for f in every(tuple(fields))}
        found: dict[str, list[str]] = {}
        for fault in faults:
            path = fault.path
            if path[: len(here)] != here:
                continue
            while path not in names and len(path) > len(here):
                path = path[:-1]
            found.setdefault(names.get(path, ""), []).append(visible(fault.says))
        if here == ("job",):
            for fault in faults:
                if fault.path == ("shop",):
                    found.setdefault("shop", []).append(visible(fault.says))
        return found

    def _told(self, checked: CheckedText, here: Path) -> Markup:
        """Faults elsewhere, each with the way to its place."""
        rest = [f for f in checked.faults if not f.path or f.path[: len(here)] != here]
        return Markup(self._pages.get_template("told.html").render(faults=rest[:30], more=len(rest) - 30))

    def answer(self, checked: CheckedText, here: Path) -> dict[str, Any]:
        """What a form is told while it is typed in."""
        fields = self.fields(here)
        beside, style = self.board(checked.board)
        return {
            "version": self.desk.document.version, "steps": self.desk.document.steps,
            "faults": self.faults_by_field(checked.faults, here, fields), "told": str(self._told(checked, here)),
            "sections": checked.sections(), "board": str(beside), "style": style, "serial": checked.serial,
            "sound": checked.job is not None,
        }  # fmt: skip

    def board(self, beside: Board) -> tuple[Markup, str]:
        """Pictures and facts as HTML, and the style of the pictures."""
        painted = figures(beside.pictures, "b")
        return Markup(self._beside(painted, beside.facts)), painted.style

    def _beside(self, painted: Figures, facts: Facts) -> str:
        drawn = [(title, Markup(html)) for title, html in painted.drawn]
        return self._pages.get_template("board.html").render(pictures=drawn, facts=facts)

    def whole(self, serial: int, at_: str, seen: int = -1) -> dict[str, Any]:
        """The slower part of what `check` says back: as soon as more is known than was at `seen`, or nothing comes."""
        told = self.desk.whole(serial, seen)
        known = told.known
        if known is None:
            return {"done": False, "gone": told.gone, "seen": told.seen, "html": "", "style": "", "pictures": None}
        painted = known.pictures or Figures()
        here = parse_path(at_)
        faults = self.desk.whole_faults(known)
        return {
            "done": known.done, "seen": told.seen, "style": painted.style,
            "html": self._pages.get_template("whole.html").render(known=known),
            "pictures": self._beside(painted, ()) if known.pictures is not None else None,
            "faults": self.faults_by_field(faults, here, self.fields(here)) if faults else {},
            "told": str(self._pages.get_template("told.html").render(
                faults=[f for f in faults if not f.path or f.path[: len(here)] != here], more=0)),
        }  # fmt: skip

    # -- text and plan ------------------------------------------------------------------------------------------------

    def _text(self, here: Path, data: dict[str, Any] | None, checked: CheckedText) -> dict[str, Any]:
        return {
            "page": "text", "title": "The file", "text": self.desk.document.text, "faults": checked.faults,
            "told": "", "board": "",
        }  # fmt: skip

    def _plan(self, here: Path, data: dict[str, Any] | None, checked: CheckedText) -> dict[str, Any]:
        self.desk.near_plan()
        return {
            "page": "plan", "title": "Plan", "told": self._told(checked, ()), "sound": checked.job is not None,
            "run": Markup(self.run()["html"]), "board": "", "stock": bool(checked.job and checked.job.stock),
        }  # fmt: skip

    def run(self) -> dict[str, Any]:
        """How far the plan is, or what it came to."""
        run = self.desk.run
        older = run.made is not None and not run.going and run.text != self.desk.document.text
        html = self._pages.get_template("run.html").render(run=run, stations=STATIONS, older=older)
        return {"going": run.going, "stopping": run.stopping, "html": html}

    def station(self, station: str, nonce: str) -> str | None:
        """The packet's pages of a station; None when there are none."""
        made = self.desk.run.made
        pages = dict(made.pages).get(station) if made is not None else None
        if made is None or pages is None:
            return None
        document = self.desk.document
        checked = self.desk.check(document.text, ())
        return self._pages.get_template("station.html").render(
            **self._frame(("plan",), document.data(), checked), nonce=nonce, style=Markup(pages.style), title="Plan",
            pages=pages, body=Markup(pages.body),
            now=Markup(pages.now), sheets=Markup(pages.contents), station=station, stations=STATIONS,
            made=made, told="", board="",
            older=self.desk.run.text != document.text,
        )  # fmt: skip


def _shop_field(data: dict[str, Any] | None) -> tuple[Field, ...]:
    from fabplan.job.reference import KeyWords

    name = (data or {}).get("shop")
    words = KeyWords(
        key="shop", value="text", default="none", needed=False,
        meaning="A second file with the same tables, for what several jobs share: stock, prices, tools.",
    )  # fmt: skip
    text = name if isinstance(name, str) else ""
    return (Field(path=("shop",), words=words, way="text", verbatim=True, text=text, given=name is not None, up=True),)


def _words(text: str) -> Markup:
    """Words of the reference, what stands in backquotes as code, or words of the packet with true fractions."""
    out, last = [], 0
    for match in _CODE.finditer(text):
        out.append(str(escape(text[last : match.start()])))
        code, strong = match.groups()
        out.append(f"<code>{escape(code)}</code>" if code is not None else f"<b>{escape(strong)}</b>")
        last = match.end()
    return Markup("".join(out) + str(escape(text[last:])))


__all__ = ["Views", "paper", "parse_path", "word"]
