"""A job file read: defaults, the shop file beneath it, names in one form."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from bad_jobs import GOOD

from fabplan.errors import JobError
from fabplan.job import defaults
from fabplan.job.load import load_job
from fabplan.job.model import CutPiece, DiamondPiece, Job, SectionPiece
from fabplan.job.values import OnHand, Price, Spare
from fabplan.units import NM_PER_INCH, NM_PER_MM

IN, MM = NM_PER_INCH, NM_PER_MM
SMALL = """\
[job]
name = "Porch"
number = "7"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
count = 40
side = "10 in"
hem = "3/4 in"
"""


def load(folder: Path, text: str, shop: str | None = None) -> Job:
    if shop is not None:
        (folder / "shop.toml").write_text(shop, encoding="utf-8")
        text = 'shop = "shop.toml"\n' + text
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return load_job(folder / "job.toml")


class TestDefaults:
    def test_inches(self, tmp_path: Path) -> None:
        job = load(tmp_path, SMALL)
        assert job.info.units == "in"
        assert job.info.round_to == IN // 32
        assert job.info.batch == 25
        assert job.info.spare == Spare()
        assert (job.shear.longest_cut, job.shear.back_gauge_reach, job.shear.least_held) == (52 * IN, 48 * IN, 2 * IN)
        assert job.shear.angle_stop == (30.0, 150.0)
        assert job.shear.kerf == 0
        assert float(job.nest.good_enough) == 0.0005
        assert (job.brake.apron_bar, job.brake.nose_setback, job.brake.springback) == (IN, 2.0, 2.0)
        assert [tool.name for tool in job.hem_tools] == ["hand seamer", "folding bar", "mallet"]
        assert job.hem_tools[1].slot_depth == IN
        assert job.spread.play == IN // 32

    def test_millimetres(self, tmp_path: Path) -> None:
        job = load(tmp_path, SMALL.replace('number = "7"', 'number = "7"\nunits = "mm"'))
        assert job.info.round_to == MM // 2
        assert defaults.hem_gap("mm") == 3 * MM // 2
        assert defaults.hem_gap("in") == IN // 16

    def test_what_was_assumed_is_told(self, tmp_path: Path) -> None:
        job = load(tmp_path, SMALL + '[brake]\njaw = "3 in"\n[shear]\nlongest_cut = "4 ft"\n')
        assert job.brake.jaw == 3 * IN
        assert "jaw" not in job.brake.assumed
        assert "throat" in job.brake.assumed
        assert job.assumed == (
            "job > round_to", "shear > back_gauge_reach", "shear > least_held", "shear > least_gauge",
            "shear > width_tolerance", "shear > least_pull", "hem_tool",
        )  # fmt: skip

    def test_nothing_is_assumed_when_all_is_said(self, tmp_path: Path) -> None:
        example = Path(__file__).parents[2] / "docs/examples/lakeside-pavilion/job.toml"
        job = load_job(example)
        assert job.assumed == ()
        assert set(job.brake.assumed) <= {"throat", "springback", "bed_depth", "beam_depth", "apron_bar_off"}

    def test_named_tools_replace_the_shipped_ones(self, tmp_path: Path) -> None:
        tool = '[[hem_tool]]\nname = "tongs"\nlargest_angle = 180\nleast_fold = "1/4 in"\ngreatest_fold = "1 in"\n'
        job = load(tmp_path, SMALL + tool + 'longest_fold = "3 in"\npress_strip = "1/2 in"\n')
        assert [tool.name for tool in job.hem_tools] == ["tongs"]
        assert not job.hem_tools[0].closes_hems


class TestPieces:
    def test_kinds_and_their_values(self, tmp_path: Path) -> None:
        job = load(tmp_path, GOOD)
        diamond, starter, drip = job.pieces[:3]
        assert isinstance(diamond, DiamondPiece)
        assert (diamond.side, diamond.hem, diamond.top_angle) == (10 * IN, 3 * IN // 4, 90.0)
        assert isinstance(starter, CutPiece)
        assert (starter.for_, starter.hooks, starter.cut_fold) == ("A", "D", None)
        assert isinstance(drip, SectionPiece)
        assert drip.bends == (90.0, -45.0)
        assert drip.end_hem is not None
        assert drip.end_hem.gap is None
        assert job.stock[0].price == Price(amount=Decimal("9.40"), per="lb")
        assert job.stock[1].on_hand == OnHand(count=12)

    @pytest.mark.parametrize("kind", ["Ridge-Half", "ridge_half", "RIDGE HALF"])
    def test_kind_as_people_type_it(self, tmp_path: Path, kind: str) -> None:
        job = load(tmp_path, SMALL + f'[[piece]]\nmark = "R"\nkind = "{kind}"\nfor = "A"\ncount = 1\n')
        assert job.pieces[1].kind == "ridge-half"

    @pytest.mark.parametrize("fold", ['"none"', '"None"'])
    def test_no_fold(self, tmp_path: Path, fold: str) -> None:
        text = f'[[piece]]\nmark = "R"\nkind = "rake-left"\nfor = "A"\ncount = 1\ncut_fold = {fold}\n'
        piece = load(tmp_path, SMALL + text).pieces[1]
        assert isinstance(piece, CutPiece)
        assert piece.cut_fold == "none"

    def test_bare_numbers_are_exact(self, tmp_path: Path) -> None:
        job = load(tmp_path, SMALL.replace('"10 in"', "10.1"))
        assert isinstance(job.pieces[0], DiamondPiece)
        assert job.pieces[0].side == 101 * IN // 10

    def test_windows_line_ends_and_a_byte_order_mark(self, tmp_path: Path) -> None:
        path = tmp_path / "job.toml"
        path.write_bytes(b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode())
        assert load_job(path).info.number == "7"

    def test_a_bare_date(self, tmp_path: Path) -> None:
        assert load(tmp_path, SMALL.replace('number = "7"', "number = 7\ndate = 2026-05-01")).info.date == "2026-05-01"


class TestShopFile:
    SHOP = """\
[job]
round_to = "1/16 in"
spare = "5 %"
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
price = "9.40 per lb"
[[stock]]
name = "coil 20"
form = "coil"
width = "20 in"
[shear]
longest_cut = "52 in"
least_held = "2 in"
"""

    def test_fills_in_what_the_job_leaves_out(self, tmp_path: Path) -> None:
        job = load(tmp_path, SMALL, self.SHOP)
        assert job.info.name == "Porch"
        assert job.info.round_to == IN // 16
        assert [line.name for line in job.stock] == ["coil 24", "coil 20"]
        assert job.shop is not None

    def test_the_job_wins_key_by_key(self, tmp_path: Path) -> None:
        job = load(tmp_path, SMALL + '[shear]\nleast_held = "1 in"\n', self.SHOP)
        assert (job.shear.longest_cut, job.shear.least_held) == (52 * IN, IN)

    def test_an_entry_of_the_same_name_is_filled_in(self, tmp_path: Path) -> None:
        job = load(tmp_path, SMALL + '[[stock]]\nname = "Coil 20"\non_hand = "40 ft"\n', self.SHOP)
        assert [line.name for line in job.stock] == ["Coil 20", "coil 24"]
        assert job.stock[0].width == 20 * IN
        assert job.stock[0].on_hand == OnHand(length=480 * IN)

    def test_in_a_parent_folder(self, tmp_path: Path) -> None:
        (tmp_path / "jobs").mkdir()
        (tmp_path / "shop.toml").write_text(self.SHOP, encoding="utf-8")
        path = tmp_path / "jobs" / "job.toml"
        path.write_text('shop = "../shop.toml"\n' + SMALL, encoding="utf-8")
        assert len(load_job(path).stock) == 2

    def test_its_units_are_used(self, tmp_path: Path) -> None:
        job = load(tmp_path, SMALL.replace('"10 in"', "250"), '[job]\nunits = "mm"\nround_to = 1\n')
        assert isinstance(job.pieces[0], DiamondPiece)
        assert job.pieces[0].side == 250 * MM

    def test_a_metal_path_is_from_the_file_that_names_it(self, tmp_path: Path) -> None:
        (tmp_path / "shop").mkdir()
        (tmp_path / "jobs").mkdir()
        profile = (Path(__file__).parents[2] / "stock_profiles/copper-16oz.toml").read_text(encoding="utf-8")
        (tmp_path / "shop" / "mine.toml").write_text(profile.replace("0.350", "0.400"), encoding="utf-8")
        (tmp_path / "shop" / "shop.toml").write_text('[metal]\nuse = "mine.toml"\n', encoding="utf-8")
        path = tmp_path / "jobs" / "job.toml"
        text = SMALL.replace('[metal]\nuse = "copper-16oz"\n', "")
        path.write_text('shop = "../shop/shop.toml"\n' + text, encoding="utf-8")
        assert load_job(path).metal.use == "../shop/mine.toml"


class TestMetalNames:
    def test_one_form(self, tmp_path: Path) -> None:
        text = SMALL.replace("copper-16oz", "Copper_16OZ")
        stock = '[[stock]]\nname = "c"\nform = "coil"\nwidth = "24 in"\nmetal = "COPPER-16oz"\n'
        job = load(tmp_path, text + stock)
        assert job.metal.use == job.stock[0].metal == "copper-16oz"

    def test_measured_allowance(self, tmp_path: Path) -> None:
        text = SMALL + '[[brake.measured_allowance]]\nmetal = "copper 16oz"\nturned = 180\ndeduction = "0.02 in"\n'
        (measured,) = load(tmp_path, text).brake.measured_allowance
        assert (measured.metal, measured.deduction) == ("copper-16oz", IN // 50)

    def test_a_fault_in_a_profile_names_the_profile(self, tmp_path: Path) -> None:
        profile = (Path(__file__).parents[2] / "stock_profiles/copper-16oz.toml").read_text(encoding="utf-8")
        (tmp_path / "mine.toml").write_text(profile.replace("0.350", "0.95"), encoding="utf-8")
        with pytest.raises(JobError) as caught:
            load(tmp_path, SMALL.replace("copper-16oz", "mine.toml"))
        assert str(caught.value) == (
            "mine.toml, line 12: bend_factor: must be 0.2 to 0.5 of the thickness (found 0.95). "
            "Write for example 0.407."
        )


def test_marks_as_numbers(tmp_path: Path) -> None:
    text = SMALL.replace('mark = "A"', "mark = 1") + '[[piece]]\nmark = "S"\nkind = "starter"\nfor = 1\ncount = 2\n'
    job = load(tmp_path, text)
    assert [piece.mark for piece in job.pieces] == ["1", "S"]
    with pytest.raises(JobError, match='piece "1" > mark: the piece on line 7 has the same mark'):
        load(tmp_path, text.replace('mark = "S"', "mark = 1"))


class TestCounts:
    SLOPE = '[[slope]]\nname = "north"\nshape = "{}"\npiece = "A"\nbottom = "10 ft"\nheight = "6 ft"\n'

    def test_from_a_slope(self, tmp_path: Path) -> None:
        job = load(tmp_path, SMALL.replace("count = 40\n", "") + self.SLOPE.format("rectangle"))
        assert job.pieces[0].count is None
        assert job.slopes[0].piece == "A"

    def test_shape_as_people_type_it(self, tmp_path: Path) -> None:
        job = load(tmp_path, SMALL.replace("count = 40\n", "") + self.SLOPE.format("Rectangle"))
        assert job.slopes[0].shape == "rectangle"

    def test_edge_pieces_are_counted_along_the_roof(self, tmp_path: Path) -> None:
        section = '[[piece]]\nmark = "H"\nkind = "section"\nlength = "4 ft"\nlegs = ["4 in", "4 in"]\nbends = [-90]\n'
        text = SMALL.replace("count = 40\n", "") + section + self.SLOPE.format("rectangle")
        assert load(tmp_path, text + '[roof]\nhip_piece = "H"\n').pieces[1].count is None
        with pytest.raises(JobError, match='"count" is missing'):
            load(tmp_path, text)
