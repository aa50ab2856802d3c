"""Shipped metal profiles against the published tables they rest on."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from fabplan.errors import JobError
from fabplan.job.metals import MetalProfile, list_metals, load_metal, metal_names, profile_folder
from fabplan.job.summary import metal_data, metal_list_rows, metal_rows
from fabplan.units import NM_PER_INCH, weight_number

CDA = "Copper in Architecture Design Handbook (Copper Development Association, pub. A4050)"
MACHINERYS = "Machinery's Handbook, 31st ed., p. 1421, formulas 32-34 and Fig. 13"
KG_PER_M2 = 0.45359237 / 0.09290304  # of one lb per sq ft
MM = 25.4

# Copper Development Association, Copper in Architecture Design Handbook, Dimensions of Copper, Table 1.1.3:
# ounces per sq ft -> nominal inches, nominal mm, least inches.
CDA_TABLE_1_1_3 = {
    6: (0.0081, 0.206, 0.0071),
    8: (0.0108, 0.274, 0.0097),
    10: (0.0135, 0.343, 0.0124),
    12: (0.0162, 0.411, 0.0150),
    16: (0.0216, 0.549, 0.0204),
    20: (0.0270, 0.686, 0.0258),
    24: (0.0323, 0.820, 0.0308),
    32: (0.0431, 1.09, 0.0411),
    48: (0.0646, 1.64, 0.0621),
}
SHIPPED_COPPER = (12, 16, 20, 24)


@pytest.mark.published(CDA, 2)
@pytest.mark.parametrize("ounces", SHIPPED_COPPER)
def test_copper_thickness_is_the_printed_one(ounces: int) -> None:
    nominal, millimetres, least = CDA_TABLE_1_1_3[ounces]
    metal = load_metal(f"copper-{ounces}oz")
    assert metal.thickness == pytest.approx(nominal, abs=1e-9)
    assert metal.thickness * MM == pytest.approx(millimetres, abs=0.005)
    assert metal.thickness_minimum == pytest.approx(least, abs=1e-9)
    assert metal.weight * 16 == pytest.approx(ounces)


def _copper_profile(folder: Path, **keys: str) -> MetalProfile:
    """The shipped 16 oz profile with other keys, read as a shop's own file."""
    text = (profile_folder() / "copper-16oz.toml").read_text(encoding="utf-8")
    for key, value in keys.items():
        text = re.sub(rf'^{key} = ".*"$', f'{key} = "{value}"', text, count=1, flags=re.M)
    (folder / "own.toml").write_text(text, encoding="utf-8")
    return load_metal("own.toml", base=folder)


@pytest.mark.published(CDA, 2)
@pytest.mark.parametrize("ounces", CDA_TABLE_1_1_3)
def test_every_printed_weight_of_copper_fits_its_thickness(ounces: int, tmp_path: Path) -> None:
    """Same table, all nine rows: a profile of the printed weight and thickness, in inches or millimetres, is taken."""
    nominal, millimetres, least = CDA_TABLE_1_1_3[ounces]
    keys = {"weight": f"{ounces} oz per sq ft", "least_thickness": f"{least} in"}
    metal = _copper_profile(tmp_path, thickness=f"{nominal} in", **keys)
    metric = _copper_profile(tmp_path, thickness=f"{millimetres} mm", **keys)
    assert (metal.weight, metal.thickness) == pytest.approx((ounces / 16, nominal), abs=1e-9)
    assert metric.thickness == pytest.approx(nominal, abs=0.005 / MM)


@pytest.mark.parametrize(("ounces", "of"), [(16, 12), (12, 16), (20, 16), (16, 20), (32, 24), (8, 6)])
def test_a_weight_of_another_row_is_refused(ounces: int, of: int, tmp_path: Path) -> None:
    """Same table: the thickness of one row with the weight of its neighbour."""
    nominal, _, least = CDA_TABLE_1_1_3[of]
    with pytest.raises(JobError, match="must be that of the thickness and density"):
        _copper_profile(
            tmp_path, thickness=f"{nominal} in", least_thickness=f"{least} in", weight=f"{ounces} oz per sq ft"
        )


def test_copper_thickness_follows_from_weight_to_20_oz_only() -> None:
    """The handbook's printed 24 oz figure is .0001 in below weight / density, so the table is stored, not computed."""
    for ounces in (12, 16, 20):
        assert load_metal(f"copper-{ounces}oz").thickness == pytest.approx(ounces / 16 / 144 / 0.3214, abs=1e-4)
    assert load_metal("copper-24oz").thickness < 24 / 16 / 144 / 0.3214 - 5e-5


@pytest.mark.published(CDA)
def test_least_thickness_of_16_oz() -> None:
    """Same table: .0204 in is 94.4 % of nominal."""
    metal = load_metal("copper-16oz")
    assert metal.thickness_minimum is not None
    assert metal.thickness_minimum / metal.thickness == pytest.approx(0.944, abs=0.001)


@pytest.mark.published(CDA)
def test_weight_of_a_sheet() -> None:
    """Same handbook, Table 1.1.2 sizes: a 36 x 120 in sheet is 30 sq ft: 30 lb in 16 oz, 37.5 lb in 20 oz."""
    width, length = 36 * NM_PER_INCH, 120 * NM_PER_INCH
    for name, pounds in (("copper-16oz", 30.0), ("copper-20oz", 37.5)):
        metal = load_metal(name)
        assert (width, length) in metal.sheets
        assert metal.weight * 36 * 120 / 144 == pytest.approx(pounds)


@pytest.mark.published(CDA, 8)
def test_copper_strip_widths() -> None:
    """Same handbook, Table 1.1.2: strip in 16 oz is 10, 12, 14, 15, 16, 18, 20 and 24 in wide."""
    widths = load_metal("copper-16oz").coil_widths
    assert [width // NM_PER_INCH for width in widths] == [10, 12, 14, 15, 16, 18, 20, 24]


@pytest.mark.parametrize(
    ("name", "kg_per_m2"),
    [("copper-0.6mm", 5.358), ("copper-0.7mm", 6.251), ("zinc-0.7mm", 5.04), ("zinc-0.8mm", 5.76)],
)
def test_metric_weights(name: str, kg_per_m2: float) -> None:
    """EN 1172 data at 8.93 kg/dm3 (copper), EN 988 data at 7.2 kg/dm3 (zinc): thickness times density."""
    metal = load_metal(name)
    assert metal.weight * KG_PER_M2 == pytest.approx(kg_per_m2, abs=0.01)
    per_volume = metal.density * 0.45359237 / MM**3 * 1e6  # kg/dm3
    assert metal.thickness * MM * per_volume == pytest.approx(kg_per_m2, abs=0.01)


@pytest.mark.published("Manufacturers' Standard Gauge")
def test_galvanized_weight_follows_the_manufacturers_standard_gauge() -> None:
    """Manufacturers' Standard Gauge as printed: 10 gauge is .1345 in and 5.625 lb per sq ft; 41.82 lb an inch."""
    for name in ("galvanized-0.0276in", "galvanized-0.0217in"):
        metal = load_metal(name)
        assert metal.weight / metal.thickness == pytest.approx(5.625 / 0.1345, rel=0.004)
        assert metal.weight / metal.thickness == pytest.approx(41.82, rel=0.004)


@pytest.mark.published("15 U.S.C. 206, standard gauge for sheet iron and steel", 3)
def test_united_states_standard_gauge_20(tmp_path: Path) -> None:
    """No. 20: 3/80 in, 24 oz a square foot, .6804 kg a square foot, 7.324 kg a square metre."""
    text = (profile_folder() / "galvanized-0.0276in.toml").read_text(encoding="utf-8")

    def typed(weight: str) -> MetalProfile:
        changed = re.sub(r'^thickness = ".*"$', 'thickness = "3/80 in"', text, count=1, flags=re.M)
        changed = re.sub(r'^weight = ".*"$', f'weight = "{weight}"', changed, count=1, flags=re.M)
        (tmp_path / "own.toml").write_text(changed, encoding="utf-8")
        return load_metal("own.toml", base=tmp_path)

    ounces, metric = typed("24 oz per sq ft"), typed("7.324 kg/m2")
    assert ounces.thickness == pytest.approx(0.0375)
    assert metric.weight == pytest.approx(ounces.weight, rel=1e-4)
    assert weight_number(ounces.weight, "mm") == pytest.approx(0.6804, abs=5e-5)


@pytest.mark.published(MACHINERYS)
@pytest.mark.parametrize(
    ("name", "constant"),
    [("copper-16oz", 0.55), ("copper-0.7mm", 0.64), ("galvanized-0.0276in", 0.64), ("aluminum-0.032in", 0.64),
     ("stainless-0.018in", 0.71)],
)  # fmt: skip
def test_bend_factor(name: str, constant: float) -> None:
    """Machinery's Handbook, 31st ed., p. 1421, formulas 32-34: L = c T + 1.57 R for 90 degrees, so K = c / (pi/2)."""
    assert load_metal(name).bend_factor == pytest.approx(constant / (math.pi / 2), abs=0.001)


def test_a_coil_of_36_in_copper() -> None:
    """Worked by us from the definition of an ounce copper: a 36 in coil of 16 oz is 3 lb a foot."""
    metal = load_metal("copper-16oz")
    assert metal.weight * 3 == pytest.approx(3.0)
    assert 2000 / (metal.weight * 3) == pytest.approx(666.7, abs=0.1)


@pytest.mark.published(CDA, 2)
def test_expansion_of_copper() -> None:
    """CDA handbook, Table 1.1A: 9.8e-6 per F (120 in, 100 F: .1176 in); CDA alloy data sheet C12700: 9.3e-6 (.1116)."""
    metal = load_metal("copper-16oz")
    assert 120 * 100 * metal.expansion == pytest.approx(0.1176, abs=1e-4)
    assert 120 * 150 * metal.expansion == pytest.approx(0.1764, abs=1e-4)
    assert 120 * 100 * metal.expansion_range[0] == pytest.approx(0.1116, abs=1e-4)


@pytest.mark.published("EN 1172 data")
def test_expansion_of_metric_copper() -> None:
    """EN 1172 data: 1 m grows 1.7 mm over 100 K; the CDA figure would give 1.764: the spread is kept."""
    metal = load_metal("copper-0.7mm")
    assert 1000 * 100 * metal.expansion * 1.8 == pytest.approx(1.7, abs=0.01)
    assert metal.expansion_range[1] * 1.8 == pytest.approx(17.6e-6, abs=1e-8)


@pytest.mark.published("NF DTU 40.41")
def test_expansion_of_zinc() -> None:
    """NF DTU 40.41 P34-211-1, note: 22e-6 per K; 3 m over 80 K grows 5.28 mm."""
    assert 3000 * 80 * load_metal("zinc-0.7mm").expansion * 1.8 == pytest.approx(5.28, abs=0.01)


@pytest.mark.published(CDA, 3)
def test_copper_properties() -> None:
    """CDA handbook, sec. 1.1, Table 1.1A: 0.322 lb/cu in, modulus 17,000,000 psi, yield 20,000 psi least."""
    metal = load_metal("copper-16oz")
    assert (metal.density, metal.modulus_ksi, metal.yield_ksi[0]) == (0.322, 17000.0, 20.0)


NAMES = (
    "copper-12oz", "copper-16oz", "copper-20oz", "copper-24oz", "zinc-0.7mm", "zinc-0.8mm", "galvanized-0.0276in",
    "galvanized-0.0217in", "stainless-0.018in", "terne-coated-stainless-0.015in", "aluminum-0.032in",
    "aluminum-0.040in",
)  # fmt: skip


def test_the_metals_a_roofing_shop_meets_are_there() -> None:
    assert set(NAMES) <= set(metal_names())


@pytest.mark.parametrize("metal", list_metals(), ids=lambda metal: metal.name)
def test_every_profile(metal: MetalProfile) -> None:
    for key in (
        "thickness", "weight", "density", "expansion", "bend_factor", "least_inside_radius", "yield_strength",
        "modulus", "coil_widths", "sheets",
    ):  # fmt: skip
        assert metal.sources.get(key), f"{metal.name} gives no source for {key}"
    assert metal.thickness * 144 * metal.density == pytest.approx(metal.weight, rel=0.08)  # coatings weigh too
    assert metal.expansion_range[0] <= metal.expansion <= metal.expansion_range[1] * 1.001
    assert metal.yield_ksi[0] <= metal.yield_ksi[1]
    assert metal.cautions
    for value in metal.sources.values():
        assert "http" not in value


def test_said_back() -> None:
    metal = load_metal("copper-16oz")
    rows = {what: (value, source) for what, value, source in metal_rows(metal)}
    assert rows["thickness"][0] == "0.0216 in (0.549 mm)"
    assert "Table 1.1.3" in rows["thickness"][1]
    assert metal_data(metal)["weight_lb_per_sq_ft"] == 1.0
    (row,) = metal_list_rows((metal,))
    assert row == ("copper-16oz", "Copper", "0.0216 in", "1 lb/sq ft", "10, 12, 14, 15, 16, 18, 20, 24 in")
    assert metal_list_rows((load_metal("zinc-0.8mm"),))[0][2:] == (
        "0.8 mm",
        "1.18 lb/sq ft",
        "400, 500, 650, 800, 1000 mm",
    )


@pytest.mark.parametrize("typed", ["copper-16oz", "Copper_16oz", "COPPER 16OZ"])
def test_name_as_people_type_it(typed: str) -> None:
    assert load_metal(typed).name == "copper-16oz"


class TestOwnProfile:
    def write(self, folder: Path, **changes: str) -> Path:
        text = (profile_folder() / "copper-16oz.toml").read_text(encoding="utf-8")
        for key, value in changes.items():
            text = re.sub(rf"^{key} = .*$", lambda _, new=f"{key} = {value}": new, text, count=1, flags=re.M)
        (folder / "mine.toml").write_text(text, encoding="utf-8")
        return folder

    def test_by_path(self, tmp_path: Path) -> None:
        self.write(tmp_path, thickness='"0.56 mm"', weight='"4.9 kg/m2"', modulus='"117 GPa"')
        metal = load_metal("mine.toml", base=tmp_path)
        assert metal.name == "mine"
        assert metal.thickness == pytest.approx(0.56 / MM)
        assert metal.weight * KG_PER_M2 == pytest.approx(4.9)
        assert metal.modulus_ksi == pytest.approx(16969, abs=1)

    @pytest.mark.parametrize(
        ("key", "value", "said"),
        [
            ("weight", '"heavy"', 'weight: must be a weight per area (found "heavy"). Write "1.00 lb per sq ft".'),
            ("weight", '"900 lb per sq ft"', "must be a weight per area of a sheet metal"),
            ("density", '"8.9"', 'density: must be a density (found "8.9"). Write "0.322 lb per cu in".'),
            ("expansion", "9.8e-6", "expansion: must be an expansion"),
            ("family", '"gold"', "family: must be copper, zinc, steel, stainless or aluminum"),
            ("bend_factor", "0.7", "bend_factor: must be 0.2 to 0.5 of the thickness"),
            ("bend_factor", '"0.35"', "bend_factor: must be 0.2 to 0.5 of the thickness"),
            ("thickness", '"-1 in"', "thickness: must be more than 0"),
            ("least_thickness", '"1 in"', "least_thickness: must be no more than thickness"),
            ("sheets", '["36 in"]', "sheets > 1: must be a width and a length"),
        ],
    )
    def test_faults(self, tmp_path: Path, key: str, value: str, said: str) -> None:
        self.write(tmp_path, **{key: value})
        with pytest.raises(JobError) as caught:
            load_metal("mine.toml", base=tmp_path)
        assert said in str(caught.value)
        assert str(caught.value).startswith("mine.toml, line ")

    def test_unknown_key(self, tmp_path: Path) -> None:
        self.write(tmp_path)
        text = (tmp_path / "mine.toml").read_text(encoding="utf-8").replace("modulus =", "modulos =", 1)
        (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
        with pytest.raises(JobError, match=r'unknown key "modulos"\. Write "modulus"'):
            load_metal("mine.toml", base=tmp_path)

    def test_another_kind_of_file_is_not_quoted(self, tmp_path: Path) -> None:
        (tmp_path / "other.toml").write_text('[registry]\ntoken = "hunter2"\n', encoding="utf-8")
        with pytest.raises(JobError) as caught:
            load_metal("other.toml", base=tmp_path)
        assert "not a metal profile" in str(caught.value)
        assert "hunter2" not in str(caught.value)
        assert "registry" not in str(caught.value)

    def test_pounds_ounces_and_kilograms(self, tmp_path: Path) -> None:
        """15 U.S.C. 206, standard gauge: No. 20 steel is 3/80 in, 24 oz a sq ft, 7.324 kg a square metre."""
        iron = '"0.278 lb per cu in"'  # 24 oz over 3/80 in
        self.write(
            tmp_path, thickness='"3/80 in"', least_thickness='"3/80 in"', weight='"24 oz per sq ft"', density=iron
        )
        ounces = load_metal("mine.toml", base=tmp_path)
        self.write(tmp_path, thickness='"0.9525 mm"', least_thickness='"0.9 mm"', weight='"7.324 kg/m2"', density=iron)
        kilograms = load_metal("mine.toml", base=tmp_path)
        assert ounces.thickness == pytest.approx(kilograms.thickness, abs=1e-12) == 0.0375
        assert ounces.weight == 1.5
        assert kilograms.weight == pytest.approx(1.5, abs=1e-4)

    def test_a_list_without_end(self, tmp_path: Path) -> None:
        self.write(tmp_path, coil_widths="[" + '"x",' * 100_000 + "]")
        with pytest.raises(JobError, match="coil_widths: a list may have 1,000 entries at most"):
            load_metal("mine.toml", base=tmp_path)

    @pytest.mark.parametrize("name", ["/etc/passwd.toml", "C:\\metals\\x.toml", "~/x.toml", "../x.txt", "a/b"])
    def test_paths_that_are_refused(self, name: str) -> None:
        with pytest.raises(JobError):
            load_metal(name)
