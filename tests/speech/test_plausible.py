"""A roof's sizes said back, and what can hardly be meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from fabplan.errors import FabplanError
from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.plan.make import make_pieces
from fabplan.speech.plausible import roof_doubts, roof_rows, size_doubts

HEAD = '[job]\nname = "Tea house"\nnumber = "3"\n{more}[metal]\nuse = "copper-16oz"\n'
DIAMOND = '[[piece]]\nmark = "A"\nkind = "diamond"\nside = {side}\nhem = {hem}\n'
COIL = '[[stock]]\nname = "coil"\nform = "coil"\nwidth = {width}\n'


def job(tmp: Path, *parts: str, more: str = "") -> Job:
    path = tmp / "job.toml"
    path.write_text(HEAD.format(more=more) + "".join(parts), encoding="utf-8")
    return load_job(path)


def wing(name: str, bottom: str, height: str = "60 in") -> str:
    return f'[[slope]]\nname = "{name}"\nshape = "rectangle"\npiece = "A"\nbottom = "{bottom}"\nheight = "{height}"\n'


def test_forgotten_units_are_named(tmp_path: Path) -> None:
    parts = DIAMOND.format(side=200, hem=15) + "count = 4\n", COIL.format(width=670)
    said = size_doubts(job(tmp_path, *parts))
    assert said == [
        "diamond A is 200 in = 16 ft 8 in on a side: more than 3 ft.",
        "stock coil is 670 in = 55 ft 10 in wide: more than 8 ft.",
        'units is not given under [job], so bare numbers are inches: did you mean units = "mm"?',
    ]
    assert size_doubts(job(tmp_path, *parts, more='units = "mm"\n')) == []
    typed = size_doubts(job(tmp_path, *parts, more='units = "in"\n'))
    assert len(typed) == 2  # said on purpose: the sizes are named, not the units


def test_a_roof_is_said_back(tmp_path: Path) -> None:
    """Sides of 60 in, slant 120 in: 25 sq ft each, hips of sqrt(120^2 + 30^2) = 123.69 in that turn 86.4 degrees."""
    spire = '[[slope]]\nname = "turret"\nshape = "regular-spire"\npiece = "A"\nsides = 4\nside = "60 in"\n'
    spire += 'slant = "120 in"\n'
    made = make_pieces(job(tmp_path, DIAMOND.format(side=10, hem=0.75), spire))
    assert made.roof is not None
    rows = dict(roof_rows(made.roof, made.job, made.patterns))
    assert rows["measured turret"].startswith("4 alike, each eave 60 in, 120 in up the slope, 25 sq ft, pitch 75.5°; ")
    assert rows["hips"] == "4 of 123-11/16 in, the slopes turn 86.4° there"
    pounds = sum(p.count * p.weight for p in made.patterns)
    assert rows["roof"] == f"100 sq ft, metal of all pieces {made.job.show.weight(pounds)}"
    assert rows["largest"].startswith("blank A, ")
    assert roof_doubts(made.roof, made.job) == []


def test_what_can_hardly_be_meant(tmp_path: Path) -> None:
    short = '[[piece]]\nmark = "T"\nkind = "rake-left"\nfor = "A"\n'
    made = make_pieces(job(tmp_path, DIAMOND.format(side=10, hem=0.75), short, wing("a", "40 in"), wing("b", "420 in")))
    assert made.roof is not None
    said = roof_doubts(made.roof, made.job)
    assert "the eave of b is 10 times that of a beside it." in said  # 420 / 40, rounded to even
    assert len([s for s in said if "beside it" in s]) == 1


@pytest.mark.parametrize(
    ("slope", "says"),
    [
        (
            'shape = "octagon"\nside = "40 in"\nslant = "80 in"\n',
            r'shape: .* spire with 8 slopes \(found "octagon"\)\. Write shape = "regular-spire" and sides = 8',
        ),
        (
            'shape = "trapezoid"\nbottom = "60 in"\ntop = "90 in"\nheight = "50 in"\nedges = {left = "rake"}\n',
            "wider at the top than at the bottom .*found no edges for right",
        ),
    ],
)
def test_shapes_that_are_asked_for(tmp_path: Path, slope: str, says: str) -> None:
    with pytest.raises(FabplanError, match=says):
        job(tmp_path, DIAMOND.format(side=10, hem=0.75), f'[[slope]]\nname = "x"\npiece = "A"\n{slope}')
