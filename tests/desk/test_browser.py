"""The desk in a real browser: what one types, what one sees, what the file says."""

from __future__ import annotations

import json
import time

import pytest
from desk_asker import PORCH, Served
from desk_browser import BROWSER

from fabplan.job.edit_toml import at, read_values

pytestmark = pytest.mark.skipif(BROWSER is None, reason="no Chromium here")


@pytest.fixture
def porch_page(served_porch: Served) -> Served:
    """The porch as it was, the tab wide."""
    served_porch.path.write_text(PORCH, encoding="utf-8")
    served_porch.serving.desk.document.read_again()
    served_porch.tab.wide(1400)
    served_porch.tab.faults.clear()
    served_porch.tab.asked.clear()
    return served_porch


def quiet(served: Served) -> None:
    """No error in the console, and nothing asked of any other machine."""
    assert served.tab.faults == []
    own = served.serving.address
    assert [url for url in served.tab.asked if not url.startswith(own)] == []


def test_typing_draws_and_leaving_writes(porch_page: Served) -> None:
    tab = porch_page.tab
    porch_page.open("piece.0")
    assert tab.run("document.querySelectorAll('#board svg').length") == 2
    tab.run("document.getElementById('i-piece.0.side').select()")
    tab.type("6 in")
    tab.until("document.getElementById('board').textContent.includes('7')  && document.querySelector('#board text')")
    tab.until("/side 6 in finished/.test(document.getElementById('board').textContent)")
    assert porch_page.text == PORCH  # only typed
    tab.press("Enter")
    tab.until("/\\d\\d:\\d\\d:\\d\\d/.test(document.getElementById('saved').textContent)")
    assert porch_page.text == PORCH.replace('side = "10 in"     # taped', 'side = "6 in"     # taped')
    quiet(porch_page)


def test_a_fault_appears_beside_its_field_and_goes(porch_page: Served) -> None:
    tab = porch_page.tab
    porch_page.open("piece.0")
    porch_page.fill("piece.0.hem", "6 in")
    tab.until("document.getElementById('fault-piece.0.hem').textContent")
    assert porch_page.says("piece.0.hem").startswith("a hem must be narrower than half the side, 10 in")
    assert tab.run("document.getElementById('i-piece.0.hem').getAttribute('aria-invalid')") == "true"
    assert tab.run("document.querySelector('[data-bad=piece]').textContent") == "1 to mend"
    assert tab.run("document.getElementById('beside').classList.contains('old')")
    porch_page.fill("piece.0.hem", "1 in")
    tab.until("!document.getElementById('fault-piece.0.hem').textContent")
    assert not tab.run("document.getElementById('beside').classList.contains('old')")
    assert 'hem = "1 in"' in porch_page.text
    quiet(porch_page)


def test_another_program_s_change_is_shown(porch_page: Served) -> None:
    tab = porch_page.tab
    porch_page.open("piece.0")
    theirs = PORCH.replace("count = 12", "count = 99")
    porch_page.path.write_text(theirs, encoding="utf-8")
    porch_page.fill("piece.0.side", "9 in")
    tab.until("!document.getElementById('changed').hidden")
    assert "+count = 99" in tab.run("document.getElementById('changed-lines').textContent")
    assert porch_page.text == theirs
    porch_page.click("again")
    assert tab.run("document.getElementById('i-piece.0.count').value") == "99"
    quiet(porch_page)


def test_a_piece_is_added_copied_and_taken_out(porch_page: Served) -> None:
    tab = porch_page.tab
    porch_page.open("piece")
    tab.run("document.getElementById('new-name').value = 'C'; document.getElementById('new-what').value = 'disc'")
    porch_page.click("add")
    assert "Piece C" in tab.run("document.querySelector('h2').textContent")
    assert tab.run("document.getElementById('fault-piece.2.diameter').textContent").startswith('"diameter" is missing')
    porch_page.fill("piece.2.diameter", "5 in")
    tab.until("document.querySelectorAll('#board svg').length === 2")
    tab.run("document.getElementById('like-name').value = 'C2'")
    porch_page.click("like")
    porch_page.click("drop")
    assert tab.dialogs == 1
    tab.dialogs = 0
    assert porch_page.text == PORCH.replace(
        "\n[[stock]]", '\n[[piece]]\nmark = "C"\nkind = "disc"\ndiameter = "5 in"\n\n[[stock]]'
    )
    porch_page.click("back")
    assert [p["mark"] for p in read_values(porch_page.text)["piece"]] == ["A", "D", "C", "C2"]
    quiet(porch_page)


@pytest.mark.parametrize("width", [390, 820, 1400])
def test_no_page_scrolls_sideways(porch_page: Served, width: int) -> None:
    tab = porch_page.tab
    tab.wide(width)
    for place in ("piece.0", "piece", "roof", "stock.0", "text", "plan"):
        porch_page.open(place)
        assert tab.run("document.documentElement.scrollWidth - document.documentElement.clientWidth") == 0, place
        small = tab.run(
            "[...document.querySelectorAll('button, select, input')].filter(e => e.offsetParent && "
            "e.getBoundingClientRect().height < 34).map(e => e.id || e.textContent)"
        )
        assert small == [], place  # a thumb finds each
    quiet(porch_page)


def test_every_field_has_a_name_and_words_for_who_cannot_see(porch_page: Served) -> None:
    tab = porch_page.tab
    for place in ("piece.1", "stock.0", "job"):
        porch_page.open(place)
        bare = tab.run(
            "[...document.querySelectorAll('input, select, textarea')].filter(e => !(e.labels && e.labels.length) && "
            "!e.getAttribute('aria-label')).map(e => e.outerHTML)"
        )
        assert bare == []
        lost = tab.run(
            "[...document.querySelectorAll('[aria-describedby]')].flatMap(e => e.getAttribute('aria-describedby')"
            ".split(' ')).filter(i => !document.getElementById(i))"
        )
        assert lost == []
        twice = tab.run("(i => i.length - new Set(i).size)([...document.querySelectorAll('[id]')].map(e => e.id))")
        assert twice == 0
        svgs = tab.run("[...document.querySelectorAll('#board svg')].every(e => e.getAttribute('aria-label'))")
        assert svgs is True


def test_keyboard_alone(porch_page: Served) -> None:
    """From the address line to a written change and another table, without a pointer."""
    tab = porch_page.tab
    porch_page.open("piece")

    def reach(script: str) -> None:
        for _ in range(60):
            tab.press("Tab")
            if tab.run(f"!!document.activeElement && ({script})(document.activeElement)"):
                break
        else:
            raise AssertionError(script)
        outline = tab.run("getComputedStyle(document.activeElement).outlineStyle")
        assert outline not in ("none", ""), "what has the focus is seen"

    reach("e => e.textContent === 'A' && e.href")
    tab.run("window.old = 1")
    tab.press("Enter")
    tab.until("!window.old && document.readyState === 'complete' && document.getElementById('form')")
    reach("e => e.name === 'piece.0.count'")
    tab.type("14")
    tab.press("Tab")
    tab.until("/\\d\\d:\\d\\d/.test(document.getElementById('saved').textContent)")
    assert "count = 14" in porch_page.text
    tab.press("Tab", shift=True)
    assert tab.run("document.activeElement.name") == "piece.0.count"
    reach("e => e.tagName === 'SUMMARY'")
    tab.press("Enter")
    tab.until("document.querySelector('details[open]')")
    quiet(porch_page)


def test_text_of_the_job_runs_nothing(porch_page: Served) -> None:
    tab = porch_page.tab
    porch_page.open("piece.0")
    for evil in ("<img src=x onerror='window.evil=1'>", "</textarea><script>window.evil=1</script>"):
        porch_page.fill("piece.0.note", evil)
        tab.until("/\\d\\d:\\d\\d/.test(document.getElementById('saved').textContent)")
        porch_page.open("piece.0")
        assert tab.run("document.getElementById('i-piece.0.note').value") == evil
        assert not tab.run("!!window.evil")
    blocked = tab.run(
        "(() => { const s = document.createElement('script'); s.textContent = 'window.evil = 1'; "
        "document.body.appendChild(s); return !window.evil; })()"
    )
    assert blocked
    tab.faults.clear()  # the browser says that it was blocked
    porch_page.open("text")
    assert not tab.run("!!window.evil")
    quiet(porch_page)


def test_random_edits_are_what_the_file_says(porch_page: Served) -> None:
    round_trip(porch_page, 10, seed=3)


VALUES = ["1/2 in", "14 1/2\"", "250", "0.75", "-3", "5 %", "x", "", "  ", "true", "a, b", "[1]", "#", "'", "\\",
          "½ in", "“10 in”", "10 pieces", "<b>", "{}", "a = b", "9.40 per lb", "🙂", "1, 2\n3, 4",
          "bottom = eave"]  # fmt: skip


PLACES = ["piece.0", "piece.1", "stock.0", "job", "metal", "shear", "nest", "brake", "roof", "labour", "spread",
          "handling"]  # fmt: skip


def round_trip(served: Served, times: int, seed: int) -> None:
    """Type values into fields at random: the file says each, comments stay, and the page shows them again."""
    import random

    from fabplan.desk.fields import every, value_of
    from fabplan.desk.view import Views
    from fabplan.errors import JobError

    draw = random.Random(seed)
    tab = served.tab
    views = Views(served.serving.desk)
    done = 0
    while done < times:
        place = draw.choice(PLACES)
        served.open(place)
        for _ in range(min(5, times - done)):
            fields = [f for f in every(views.fields(_path(place))) if f.way not in ("group", "groups")]
            field = draw.choice([f for f in fields if f.words.key not in ("kind", "shop")])
            shown = json.dumps(f"i-{field.name}")
            if not tab.run(f"!!document.getElementById({shown})"):
                break  # its group came or went: open the page again
            text = draw.choice([*VALUES, *field.choices])
            if field.way in ("choice", "truth"):
                text = draw.choice([*field.choices, "", "true"]) if field.way == "choice" else draw.choice(["true", ""])
                options = tab.run(f"[...document.getElementById({shown}).options].map(o => o.value)")
                text = text if text in options else ""
            elif field.way not in ("pairs", "map", "written"):
                text = text.replace("\n", " ")
            before = read_values(served.text)
            try:
                wanted = value_of(field, text)
                refused = False
            except JobError:
                refused = True
            served.fill(field.name, text)
            tab.until("(document.body.dataset.writing || '0') === '0'")
            after = read_values(served.text)
            said = at(after, field.path)
            if refused:
                assert after == before, (field.name, text)
            elif said != wanted:
                outside = tab.run("document.getElementById('form').textContent.includes('the desk opens files')")
                assert outside and after == before, (field.name, text, said, wanted)
            for comment in ("# The porch, as taped on Friday.", "# ---- shingles ----"):
                assert comment in served.text
            done += 1
        served.open(place)  # shown again, every field says what the file says
        fields = [f for f in every(views.fields(_path(place))) if f.way not in ("group", "groups", "written")]
        seen = tab.run("Object.fromEntries([...document.querySelectorAll('#form [name]')].map(e => [e.name, e.value]))")
        assert {f.name: f.text for f in fields} == {f.name: seen[f.name] for f in fields}
    quiet(served)


def _path(place: str) -> tuple[str | int, ...]:
    return tuple(int(p) if p.isdigit() else p for p in place.split("."))


@pytest.mark.slow
def test_two_hundred_random_edits(porch_page: Served) -> None:
    began = time.monotonic()
    round_trip(porch_page, 200, seed=11)
    assert time.monotonic() > began


EVERY = (
    PORCH
    + """
[[piece]]
mark = "E"
kind = "outline"
count = 2
points = [["0 in", "0 in"], ["6 in", "0 in"], ["6 in", "6 in"]]
odd = [1, 2]

[[slope]]
name = "west"
shape = "triangle"
piece = "A"
bottom = "60 in"
height = "60 in"
"""
)
WAYS = [  # a field of every way of filling in, what is typed, what the file says then
    ("piece.0", "side", "text", "9-1/2 in", "9-1/2 in"),
    ("piece.0", "grain", "choice", "along", "along"),
    ("stock.0", "buy", "truth", "true", True),
    ("piece.1", "bends", "list", "80, -40", [80, -40]),
    ("piece.2", "points", "pairs", "0, 0\n5 in, 0\n5 in, 5 in", [[0, 0], ["5 in", 0], ["5 in", "5 in"]]),
    ("slope.0", "edges", "map", "bottom = eave\nleft = rake", {"bottom": "eave", "left": "rake"}),
    ("piece.1", "start_hem.width", "text", "5/8 in", "5/8 in"),
    ("piece.2", "folds.0.edge", "text", "2", 2),
    ("piece.2", "odd", "written", "[3]", [3]),
]


@pytest.mark.slow
def test_every_way_of_filling_in(porch_page: Served) -> None:
    tab = porch_page.tab
    porch_page.path.write_text(EVERY, encoding="utf-8")
    porch_page.serving.desk.document.read_again()
    for place, key, way, typed, said in WAYS:
        porch_page.open(place)
        if key.startswith("folds."):
            porch_page.click("group", f"{place}.folds.0")
        porch_page.fill(f"{place}.{key}", typed)
        tab.until("document.body.dataset.writing === '0'")
        path = _path(f"{place}.{key}")
        assert at(read_values(porch_page.text), path) == said, way
        porch_page.open(place)
        assert tab.run(f"document.getElementById({json.dumps(f'i-{place}.{key}')}).value") == typed
    porch_page.open("piece.2")
    porch_page.click("group", "piece.2.folds.0")  # taken out again
    assert "folds" not in porch_page.text
    tab.run("document.getElementById('lines').open = true")
    change = "t.value = t.value.replace('odd = [3]', 'note = \"by hand\"  # so')"
    tab.run(f"(t => {{ {change}; }})(document.getElementById('table-text'))")
    porch_page.click("text", "table-text")
    assert 'note = "by hand"  # so' in porch_page.text and "odd" not in porch_page.text
    quiet(porch_page)


@pytest.mark.slow
def test_another_kind_brings_its_own_fields(porch_page: Served) -> None:
    tab = porch_page.tab
    porch_page.open("piece.1")
    assert tab.run("!!document.getElementById('i-piece.1.legs')")
    tab.run("window.old = 1")
    porch_page.fill("piece.1.kind", "rectangle")
    tab.until("!window.old && document.readyState === 'complete' && document.getElementById('i-piece.1.width')")
    assert porch_page.text == PORCH.replace('kind = "section"', 'kind = "rectangle"')  # what it said is kept, to move
    assert porch_page.says("piece.1.width").startswith('"width" is missing')
    assert tab.run("document.getElementById('i-piece.1.legs').value") == '["3/4 in", "2-1/2 in", "3 in"]'
    assert porch_page.says("piece.1.legs").startswith('unknown key "legs"')
    for key in ("legs", "bends", "end_hem"):
        porch_page.fill(f"piece.1.{key}", "")
        tab.until("document.body.dataset.writing === '0'")
    porch_page.fill("piece.1.width", "9 in")
    tab.until("document.querySelectorAll('#board svg').length === 2")
    piece = read_values(porch_page.text)["piece"][1]
    assert piece == {"mark": "D", "kind": "rectangle", "count": 4, "length": "48 in", "width": "9 in"}
    tab.run("window.old = 1")
    porch_page.fill("piece.1.kind", "")
    tab.until("!window.old && document.readyState === 'complete' && document.getElementById('i-piece.1.kind')")
    assert porch_page.says("piece.1.kind")
    quiet(porch_page)


@pytest.mark.slow
def test_a_shop_file_is_named_read_and_left_alone(porch_page: Served) -> None:
    tab = porch_page.tab
    shop = '[[stock]]\nname = "strip 8"\nform = "coil"\nwidth = "8 in"\n\n[shear]\nlongest_cut = "50 in"\n'
    (porch_page.path.parent / "our-shop.toml").write_text(shop, encoding="utf-8")
    porch_page.open("job")
    porch_page.fill("shop", "none-such.toml")
    tab.until("document.getElementById('fault-shop').textContent")
    porch_page.fill("shop", "../elsewhere.toml")
    tab.until("/the job's folder only/.test(document.getElementById('fault-shop').textContent)")
    assert read_values(porch_page.text)["shop"] == "none-such.toml"  # the refused one was not written
    porch_page.fill("shop", "our-shop.toml")
    tab.until("document.body.dataset.writing === '0' && !document.getElementById('fault-shop').textContent")
    head = "# The porch, as taped on Friday.\n"
    assert porch_page.text == PORCH.replace(head, head + 'shop = "our-shop.toml"\n\n')
    porch_page.open("stock")
    assert "strip 8" in tab.run("document.querySelector('.entries').textContent")
    assert "(in the shop file)" in tab.run("document.querySelector('.entries').textContent")
    porch_page.open("shear")
    assert "The shop file says" in tab.run("document.getElementById('form').textContent")
    porch_page.open("job")
    porch_page.fill("shop", "")
    tab.until("document.body.dataset.writing === '0'")
    assert porch_page.text.replace(head + "\n", head) == PORCH
    assert (porch_page.path.parent / "our-shop.toml").read_text(encoding="utf-8") == shop
    quiet(porch_page)
