"""Reference files: one format for all, and what is made of them. Their numbers: tests/references/."""

from __future__ import annotations

import re
import warnings
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from spectralbench import curves
from spectralbench.curves import ExtrapolationWarning, FromMemoryWarning, initiator, load, names
from spectralbench.curves.files import KINDS, find, plain, provenance
from spectralbench.errors import GridError, RangeError, UnitsError
from spectralbench.units import ascending, same_kind

FOLDER = Path(__file__).parents[1] / "reference_curves"
FILES = sorted(FOLDER.rglob("*"))
EVERY = [path for path in FILES if path.is_file()]
STANDINGS = {"published", "from memory", "derived", "invented"}
MEMORY = [path for path in EVERY if "# standing: from memory" in path.read_text(encoding="utf-8")]
FORMULAS = ("sellmeier", "powers of the index", "powers of the squared index")
HIGHEST = {"weight": 1.0, "coefficient [L mol-1 cm-1]": 1e5, "wavelength": 1e4, "strength": 1e6}


def parts(path):
    """Header, titles of columns and rows of a file, read by hand."""
    text = path.read_text(encoding="utf-8").splitlines()
    comments = [line for line in text if line.startswith("#")]
    assert text[: len(comments)] == comments, "comments stand at the top"
    header = {}
    for line in comments:
        key, colon, value = line.removeprefix("# ").partition(": ")
        assert colon, line
        assert value.strip(), line
        assert key not in header, f"{key} stands twice"
        header[key] = value
    titles, *rows = [line.split(",") for line in text[len(comments) :]]
    return header, titles, rows


def column(path, name):
    _, titles, rows = parts(path)
    bare = [title.partition(" [")[0] for title in titles]
    return [row[bare.index(name)] for row in rows]


def each(paths):
    return pytest.mark.parametrize("path", paths, ids=lambda path: str(path.relative_to(FOLDER)))


def test_every_file_has_a_kind_and_every_kind_files():
    assert {path.suffix for path in EVERY} == {".csv"}
    assert sum(len(names(kind)) for kind in KINDS) == len(EVERY)
    assert all(names(kind) for kind in KINDS)
    assert {"actinic", "blue_light", "erythema"} <= set(names())
    assert list(names()) == sorted(set(names()))


@each(EVERY)
def test_a_file_says_what_it_is_and_what_it_is_worth(path):
    header, _, _ = parts(path)
    for key in ("title", "source", "standing", "licence", "date", "digits", "check"):
        assert header[key].strip(), key
    assert header["standing"] in STANDINGS
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", header["date"])
    assert header.get("interpolation", "linear") in ("linear", "logarithmic")
    assert header.get("formula", FORMULAS[0]).startswith(FORMULAS)
    memory = header["standing"] == "from memory"
    assert header["source"].startswith("FROM MEMORY") == memory
    assert memory <= ("note" in header)


@each(EVERY)
def test_a_table_is_whole_and_its_units_are_known(path):
    _, titles, rows = parts(path)
    assert {len(row) for row in rows} == {len(titles)}
    for number, title in enumerate(titles):
        name, bracket, unit = title.partition(" [")
        cells = [row[number] for row in rows]
        if not bracket:
            assert all(cells)
            assert len(set(cells)) == len(cells)
            continue
        assert unit.endswith("]")
        assert same_kind(unit[:-1], unit[:-1])
        values = np.array(cells, dtype=float)
        assert np.isfinite(values).all()
        highest = HIGHEST.get(title, HIGHEST.get(name))
        if highest:
            assert (values >= 0).all()
            assert values.max() <= highest
        if number == 0:
            assert (np.diff(values) > 0).all() or "refractive" in str(path)


@each(EVERY)
def test_the_checks_of_a_file_hold(path):
    """Each `check` is computed again from the text alone, to the digits that it states."""
    header, titles, rows = parts(path)
    for check in header["check"].split("; "):
        kind, what, expected = re.fullmatch(r"(\w+) (.+) = (\S+)", check).groups()
        digits = len(expected.replace(".", "").lstrip("0").split("e")[0])
        found = recomputed(path, header, titles, rows, kind, what)
        assert found == pytest.approx(float(expected), rel=0.51 * 10.0 ** (1 - digits)), check


def recomputed(path, header, titles, rows, kind, what):
    if kind == "count":
        return len(column(path, what))
    if kind == "sum":
        return sum(float(cell) for cell in column(path, what))
    if kind == "value":
        key, _, name = what.rpartition(" ") if "UV" in what else (what, "", titles[1].partition(" [")[0])
        first = [row[0] for row in rows]
        keys = first if key in first else [f"{float(cell):g}" for cell in first]
        return float(column(path, name)[keys.index(key)])
    if kind == "integral":
        low, high = (float(limit) for limit in what.split("-"))
        x, y = np.array(rows, dtype=float).T
        fine = np.union1d(x, np.linspace(low, high, 400_001))
        if header["interpolation"] == "logarithmic":
            return np.trapezoid(np.exp(np.interp(fine, x, np.log(y))), fine)
        return np.trapezoid(np.interp(fine, x, y), fine)
    assert kind == "index"
    a, b = np.array(rows, dtype=float).T
    x = float(what) / 1e3
    if header["formula"].startswith("sellmeier"):
        poles = b if titles[1].endswith("[um2]") else b * b
        return np.sqrt(1 + sum(s * x * x / (x * x - c) for s, c in zip(a, poles, strict=True)))
    total = sum(c * x**power for power, c in zip(a, b, strict=True))
    return total if header["formula"].startswith("powers of the index") else np.sqrt(total)


def test_a_check_that_does_not_hold_is_seen(tmp_path, monkeypatch):
    text = (FOLDER / "actinic.csv").read_text(encoding="utf-8")
    (tmp_path / "actinic.csv").write_text(text.replace("\n297,0.46\n", "\n297,0.64\n"), encoding="utf-8")
    with pytest.raises(AssertionError, match="integral"):
        test_the_checks_of_a_file_hold(tmp_path / "actinic.csv")


@each(EVERY)
def test_digits_come_through_as_they_stand(path):
    """A loaded number is the one that the text states, to the last digit."""
    kind = next(kind for kind, folder in KINDS.items() if path.parent == (FOLDER / folder).resolve())
    found = find(kind, path.stem)
    header, titles, rows = parts(path)
    assert found.header == header
    for number, title in enumerate(titles):
        name, bracket, unit = title.partition(" [")
        values = found.columns[name].tolist()
        assert values == [float(row[number]) if bracket else row[number] for row in rows]
        assert found.units.get(name, "") == unit.removesuffix("]")


@pytest.mark.parametrize("name", names())
def test_a_weighting_is_usable(name):
    curve = load(name)
    assert curve.name == name
    assert curve.dims == ("wavelength",)
    assert curve.wavelength.attrs["units"] == "nm"
    assert curve.attrs["units"] == "1"
    assert curve.attrs["interpolation"] in ("linear", "logarithmic")
    assert ascending(curve) is curve
    assert np.isfinite(curve).all()
    assert (curve >= 0).all()
    assert curve.max() == 1.0


def test_a_loaded_curve_belongs_to_the_caller():
    mine = load("actinic")
    mine[:] = -1.0
    mine.attrs["title"] = "spoilt"
    mine.coords["wavelength"].attrs["units"] = "spoilt"
    again = load("actinic")
    assert (again >= 0).all()
    assert again.attrs["title"] != "spoilt"
    assert again.wavelength.attrs["units"] == "nm"


def test_a_loaded_list_belongs_to_the_caller():
    mine = curves.lines("mercury")
    mine["strength"][:] = -1.0
    mine.attrs["title"] = "spoilt"
    again = curves.lines("mercury")
    assert (again["strength"] > 0).all()
    assert again.attrs["title"] != "spoilt"


@pytest.mark.parametrize("name", ["tan", "", "../reference_curves/actinic", "actinic.csv", "mercury"])
def test_an_unknown_curve_is_quoted_and_the_known_ones_are_named(name):
    message = f'there is no reference curve "{name}"; there are {", ".join(names())}'
    with pytest.raises(RangeError, match=re.escape(message)):
        load(name)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: names("colours"), 'there is no kind of reference "colours"; there are weightings, lines'),
        (lambda: curves.lines("iron"), 'there is no line list "iron"; there are argon, mercury, neon'),
        (lambda: curves.refractive_index("ice", 500.0), 'there is no refractive index "ice"; there are bor'),
        (
            lambda: initiator("tea"),
            'there is no initiator "tea"; there are 1_hydroxycyclohexyl_phenyl_ketone,',
        ),
        (lambda: curves.table("logarithms"), 'there is no table "logarithms"; there are dichromate'),
        (lambda: curves.band("VIS"), 'there is no band "VIS"; there are UV-C, UV-B, UV-A'),
        (lambda: curves.thermal("wood"), 'there is no material "wood"; there are PMMA, PC, epoxy'),
    ],
)
def test_what_is_not_there_is_quoted(call, message):
    with pytest.raises(RangeError, match=re.escape(message)):
        call()


@pytest.mark.parametrize(
    ("written", "file"),
    [
        ("Fused silica", "fused_silica"),
        (
            "diphenyl(2,4,6-trimethylbenzoyl)phosphine oxide",
            "diphenyl_2_4_6_trimethylbenzoyl_phosphine_oxide",
        ),
        ("4,4′-bis(diethylamino)benzophenone", "4_4_bis_diethylamino_benzophenone"),
    ],
)
def test_a_substance_is_found_as_people_write_it(written, file):
    assert plain(written) == file
    assert file in names("refractive_indices") + names("initiators")


class TestFromMemory:
    """What is from memory says so, loudly, wherever it is taken from."""

    def test_initiators_and_thermal_properties_are(self):
        assert {path.stem for path in MEMORY} >= {
            *names("initiators"),
            "thermal",
            "dichromate",
            "holmium_glass",
        }

    @each([path for path in MEMORY if path.parent.name == "initiators"])
    def test_an_initiator_warns_and_carries_a_caution(self, path):
        with pytest.warns(FromMemoryWarning, match="FROM MEMORY .* prove nothing") as caught:
            found = initiator(path.stem)
        assert caught[0].filename == __file__
        assert found.name == "molar_absorption_coefficient"
        assert found.attrs["units"] == "L mol-1 cm-1"
        assert found.attrs["standing"] == "from memory"
        assert found.attrs["caution"].startswith("from memory, ")
        assert "(from memory)" in found.attrs["history"]

    @each([path for path in MEMORY if path.parent.name == "tables"])
    def test_a_table_warns_and_carries_a_caution(self, path):
        with pytest.warns(
            FromMemoryWarning, match=f"the table {path.stem}: these numbers are FROM MEMORY"
        ) as caught:
            assert curves.table(path.stem).attrs["caution"].startswith("from memory, ")
        assert caught[0].filename == __file__

    def test_thermal_properties_warn(self):
        with pytest.warns(
            FromMemoryWarning, match="thermal properties of PC: these numbers are FROM MEMORY"
        ) as caught:
            found = curves.thermal("pc")
        assert caught[0].filename == __file__
        assert found["conductivity"].attrs["units"] == "W m-1 K-1"
        assert found["conductivity"].dims == ()
        assert found.coords["material"].item() == "PC"
        assert "caution" in found.attrs

    @each([path for path in EVERY if path not in MEMORY and path.parent.name in ("tables", "lines")])
    def test_what_is_published_does_not_warn(self, path):
        found = curves.table(path.stem) if path.parent.name == "tables" else curves.lines(path.stem)
        assert found.attrs["standing"] == "published"
        assert "caution" not in found.attrs

    def test_the_published_value_among_them_is_told(self):
        assert (
            "46 with an uncertainty of 2, is published"
            in provenance(find("initiators", "camphorquinone"))["note"]
        )


@pytest.mark.filterwarnings("ignore::spectralbench.curves.FromMemoryWarning")
class TestInitiator:
    def test_straight_between_the_points(self):
        found = initiator("camphorquinone", [365.0, 395.0, 420.5])
        assert found.values.tolist() == pytest.approx([2.0, 3.5, 15.0])
        assert found.wavelength.values.tolist() == [365.0, 395.0, 420.5]
        assert found.attrs["history"].endswith("interpolated straight between the points")

    def test_beyond_the_points_zero_goes_on_and_nothing_else_does(self):
        with pytest.warns(
            ExtrapolationWarning, match="known for 254–436 nm, not for all of 250–500 nm"
        ) as caught:
            found = initiator("diphenyl(2,4,6-trimethylbenzoyl)phosphine oxide", [250.0, 380.0, 500.0])
        assert caught[0].filename == __file__
        assert np.isnan(found.values).tolist() == [True, False, False]
        assert found.values[1:].tolist() == [520.0, 0.0]

    def test_an_end_that_is_not_zero_is_not_continued(self):
        with pytest.warns(ExtrapolationWarning):
            assert np.isnan(initiator("camphorquinone", [500.0])).all()


class TestTables:
    def test_bands(self):
        assert [curves.band(name) for name in ("uv-a", "UV B", "UV-C")] == [
            (315.0, 400.0),
            (280.0, 315.0),
            (100.0, 280.0),
        ]

    @pytest.mark.filterwarnings("ignore::spectralbench.curves.FromMemoryWarning")
    def test_a_wide_table_has_a_variable_for_each_column(self):
        found = curves.table("dichromate")
        assert found.sizes == {"wavelength": 5}
        assert found["0.060 g/kg"].sel(wavelength=257).item() == 14.369
        assert found["0.060 g/kg"].attrs["units"] == "kg g-1 cm-1"


class TestRefractiveIndex:
    def test_a_number_a_row_and_an_array(self):
        one = curves.refractive_index("fused silica", 500.0)
        row = curves.refractive_index("fused silica", [500.0, 600.0])
        assert one.dims == ()
        assert row.dims == ("wavelength",)
        assert row.wavelength.values.tolist() == [500.0, 600.0]
        assert row.attrs["units"] == "1"
        assert row[0] == one
        draws = xr.DataArray([[500.0, 501.0], [500.0, 502.0]], dims=("draw", "line"), attrs={"units": "nm"})
        many = curves.refractive_index("fused silica", draws)
        assert many.dims == ("draw", "line")
        assert many.values[:, 0].tolist() == [one.item()] * 2
        assert many.attrs["units"] == "1"
        assert "comment" not in many.attrs

    def test_along_the_wavelengths_of_a_spectrum(self):
        spectrum = xr.DataArray([1.0, 2.0], {"wavelength": [500.0, 600.0]}, "wavelength")
        index = curves.refractive_index("PC", spectrum.wavelength)
        assert index.wavelength.equals(spectrum.wavelength)
        assert (index * spectrum).dims == ("wavelength",)

    def test_any_unit_of_length(self):
        nanometres = curves.refractive_index("PC", 587.6)
        assert curves.refractive_index("PC", "0.5876 um").item() == pytest.approx(
            nanometres.item(), rel=1e-12
        )

    @pytest.mark.parametrize("name", names("refractive_indices"))
    def test_outside_its_range_a_formula_warns_and_says_so(self, name):
        low, high = (
            float(text)
            for text in find("refractive_indices", name).header["range"].removesuffix(" nm").split("-")
        )
        for inside in (low, high):
            assert "comment" not in curves.refractive_index(name, inside).attrs
        message = (
            f"the formula for {name} holds for {low:g}–{high:g} nm and is extrapolated to "
            f"{low - 10:g}–{high + 10:g} nm"
        )
        with pytest.warns(ExtrapolationWarning, match=re.escape(message)) as caught:
            found = curves.refractive_index(name, [low - 10, high + 10])
        assert caught[0].filename == __file__
        assert found.attrs["comment"] == message
        assert message in found.attrs["history"]

    def test_where_a_formula_gives_none_it_is_not_valid(self):
        with pytest.warns(ExtrapolationWarning):
            assert np.isnan(curves.refractive_index("PC", 145.0))

    def test_wavelengths_in_two_dimensions_need_names(self):
        with pytest.raises(GridError, match="one number or one row of them, not 2 dimensions"):
            curves.refractive_index("PC", [[500.0]])

    @pytest.mark.parametrize("name", names("refractive_indices"))
    def test_falls_with_wavelength_in_the_visible(self, name):
        """Normal dispersion: no slipped sign or digit."""
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", ExtrapolationWarning)
            index = curves.refractive_index(name, np.arange(365.0, 700.0, 5.0))
        assert (np.diff(index) < 0).all()
        assert ((index > 1.4) & (index < 1.7)).all()


@pytest.mark.filterwarnings("ignore::spectralbench.curves.FromMemoryWarning")
def test_where_an_initiator_is_wanted_may_have_a_unit():
    plain_numbers = initiator("camphorquinone", [405.0, 469.0])
    microns = xr.DataArray([0.405, 0.469], dims="line", attrs={"units": "µm"})
    for same in (microns, ["405 nm", "469 nm"], [405.0, "0.469 µm"]):
        assert initiator("camphorquinone", same).identical(plain_numbers)
    assert initiator("camphorquinone", "469 nm").values.tolist() == [46.0]
    with pytest.raises(UnitsError, match='"s" cannot be converted to "nm"'):
        initiator("camphorquinone", "469 s")


def test_lines_in_another_unit_are_seen_where_they_are():
    mercury = curves.lines("mercury")
    moved = mercury.assign_coords(wavelength=("wavelength", mercury.wavelength.values / 1e3, {"units": "µm"}))
    moved["uncertainty"] = (mercury["uncertainty"] * 1e3).assign_attrs(units="pm").drop_vars("wavelength")
    expected, found = curves.effective_lines(mercury, 2.0), curves.effective_lines(moved, "2 nm")
    np.testing.assert_allclose(found.wavelength, expected.wavelength, rtol=1e-12)
    np.testing.assert_allclose(found["uncertainty"], expected["uncertainty"], rtol=1e-9)
