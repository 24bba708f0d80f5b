"""Pictures from Python: what they show, in which units, and that they stay whole wherever they go."""

from __future__ import annotations

import io
import re
import sys
from xml.etree import ElementTree

import colour
import matplotlib
import numpy as np
import pytest
import xarray as xr
from IPython.core.formatters import DisplayFormatter
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_hex
from matplotlib.text import Text
from matplotlib.transforms import Bbox

import spectralbench as sb
from spectralbench import pictures
from spectralbench.errors import GridError, RangeError, UnitsError
from spectralbench.pictures.drawing import COLOURS, SOURCES, as_svg, drawing

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "<script>alert('x')</script> & \"$\\frac{1}$\" a light whose name goes on and on"


@pytest.fixture(scope="module")
def light(reduced):
    return reduced["sources/spectral_irradiance"]


@pytest.fixture(scope="module")
def result(reduced):
    return sb.compare(reduced)


@pytest.fixture(scope="module")
def uncertain(demo):
    return sb.reduce_bench(demo, draws=20, seed=1)


CAUSES = {
    "noise": 0.02,
    "distance": 0.5,
    "lamp calibration": 0.2,
    "stray light and linearity": 0.1,
    "position of the part": 0.15,
    "flicker": 0.03,
}
"""Invented shares of a variance, in no order."""


@pytest.fixture(scope="module")
def drawn(uncertain):
    """A comparison with draws, and with shares of the variance that we know."""
    result = sb.compare(uncertain)
    figures = ("irradiance_at_part", "band_irradiance", "exposure_time")
    shares = xr.DataArray(
        np.tile(list(CAUSES.values()), (len(figures), result.sizes["source"], 1)),
        {
            "figure": list(figures),
            "source": result.source.values,
            "cause": list(CAUSES),
            "origin": ("cause", ["invented"] * len(CAUSES)),
        },
        ("figure", "source", "cause"),
    )
    shares.loc[{"figure": "irradiance_at_part", "source": "arc"}] = np.nan
    return result.assign(variance_share=shares)


@pytest.fixture(scope="module")
def cube(uncertain):
    return sb.sweep(uncertain, thickness=["1 mm", "2 mm"], time=["3 s", "6 s", "30 s"])


@pytest.fixture(scope="module")
def every(reduced, light, result, drawn, uncertain, cube):
    """Each picture, by name, at any width."""
    transmittance = uncertain["parts/transmittance"]
    return {
        "spectra": lambda width: pictures.spectra(light, band=(320, 430), width=width),
        "logarithmic": lambda width: pictures.spectra(transmittance, log=True, width=width),
        "light_path": lambda width: pictures.light_path(reduced, width=width),
        "by_depth": lambda width: pictures.by_depth(result, width=width),
        "comparison": lambda width: pictures.comparison(drawn, figures=FOUR, width=width),
        "budget": lambda width: pictures.budget(drawn, width=width),
        "sweep": lambda width: pictures.sweep(cube, "exposure_time", limit=drawn, width=width),
        "enough": lambda width: pictures.sweep(cube.sel(thickness=2), "enough", width=width),
    }


FOUR = ("band_irradiance", "absorbed_photons", "peak_temperature", "end_of_life_irradiance")
NAMES = ("spectra", "logarithmic", "light_path", "by_depth", "comparison", "budget", "sweep", "enough")


def words_of(root):
    return [element.text for element in root.iter(f"{SVG}text")]


def svg_of(picture):
    return ElementTree.fromstring(as_svg(picture, "x"))


def legend_of(ax):
    return [text.get_text().replace("\n", " ") for text in ax.get_legend().get_texts()]


def lines_of(ax, identity):
    return [line for line in ax.lines if str(line.get_gid() or "").startswith(identity)]


def curves_of(ax):
    """Lines in the colours of sources, without the marks of gaps."""
    return [line for line in ax.lines if to_hex(line.get_color()) in SOURCES and line.get_marker() != "x"]


def cut_off(picture):
    """Texts that reach beyond the picture by more than a pixel, as it is drawn."""
    renderer = FigureCanvasAgg(picture).get_renderer()
    picture.draw_without_rendering()
    width, height = picture.bbox.size
    inside = Bbox.from_extents(-1, -1, width + 1, height + 1)
    outside = []
    for text in picture.findobj(Text):
        box = text.get_window_extent(renderer)
        if text.get_visible() and text.get_text().strip() and not_within(box, inside):
            outside.append(text)
    unseen = {  # matplotlib keeps the numbers beyond the ends of an axis, and does not draw them
        tick.label1
        for ax in picture.axes
        for axis in (ax.xaxis, ax.yaxis)
        for tick in [*axis.get_major_ticks(), *axis.get_minor_ticks()]
        if not min(axis.get_view_interval()) <= tick.get_loc() <= max(axis.get_view_interval())
    }
    return [text.get_text() for text in outside if text not in unseen]


def not_within(box, outer):
    return box.x0 < outer.x0 or box.y0 < outer.y0 or box.x1 > outer.x1 or box.y1 > outer.y1


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_cut_off_and_each_picture_says_what_it_is(every, name):
    for width in (85, 234):
        picture = every[name](width)
        assert cut_off(picture) == []
    if "matplotlib.pyplot" in sys.modules:  # some other test may have loaded it
        assert sys.modules["matplotlib.pyplot"].get_fignums() == []
    assert picture.heading
    assert picture.words.endswith(".")
    assert picture.words.count(" ") > 8


def test_a_label_that_is_cut_off_is_noticed(light):
    picture = pictures.spectra(light)
    picture.text(0.99, 0.5, "too long for this place")
    assert cut_off(picture) == ["too long for this place"]


@pytest.mark.parametrize(
    ("form", "start"), [("png", b"\x89PNG\r\n\x1a\n"), ("pdf", b"%PDF"), ("svg", b"<?xml")]
)
def test_matplotlib_writes_a_picture_in_every_format(every, tmp_path, form, start):
    """PNG: third edition, 5.2; PDF: ISO 32000-1, 7.5.2; XML 1.0, 2.8."""
    file = tmp_path / f"picture.{form}"
    every["sweep"](234).savefig(file)
    assert file.read_bytes().startswith(start)
    if form == "svg":
        words = words_of(ElementTree.parse(file).getroot())
        assert {"at most 30 s", "thickness of the last part [mm]", "LED 405"} <= set(words)


def test_a_notebook_shows_a_picture_once_at_its_size_and_with_its_words(every):
    """One PNG, in pixels of a page; its words go along as metadata."""
    picture = every["sweep"](127.0)
    data, about = DisplayFormatter().format(picture)
    assert set(data) == {"image/png", "text/plain"}
    assert data["image/png"].startswith(b"\x89PNG")
    assert about["image/png"]["width"] == 480  # 5 inches of 96 pixels
    assert picture.words in about["image/png"]["alt"]


def test_pictures_leave_the_user_s_settings_alone_and_do_not_follow_them(result):
    def made():
        return pictures.comparison(result, figures=["exposure_time"], log=True)

    plain = as_svg(made(), "x")
    users = {"font.size": 30, "axes.facecolor": "red", "lines.linewidth": 9, "pdf.fonttype": 42}
    with matplotlib.rc_context(users | {"text.parse_math": True, "axes.grid": False}):
        before = dict(matplotlib.rcParams)
        later = made()
        assert as_svg(made(), "x") == plain
        file = io.BytesIO()
        made().savefig(file, format="pdf")
        assert dict(matplotlib.rcParams) == before
        assert b"/Type3" not in file.getvalue()  # what the user says of PDF counts
    assert as_svg(later, "x") == plain


def test_names_stay_text_and_are_not_cut(light, result):
    names = [HOSTILE, "_hidden", *map(str, light.source.values[2:])]
    other = pictures.spectra(light.assign_coords(source=names), width=85)
    assert cut_off(other) == []
    words = "".join(words_of(svg_of(other)))
    assert "<script>alert('x')</script>" in words
    assert "$\\frac{1}$" in words
    assert "_hidden" in words
    assert cut_off(pictures.comparison(result.assign_coords(source=names), figures=FOUR, width=180)) == []


def test_ids_and_numbers_in_names_are_not_rewritten():
    name = ' d="1.234567" id="a" #6276ff'
    with drawing(2.0) as figure:
        figure.text(0, 0, name)
    assert words_of(svg_of(figure)) == [name]


def test_no_id_stands_twice_in_a_picture_of_several_panels(every):
    """XML 1.0, 3.3.1: an id names one element."""
    svg = as_svg(every["comparison"](234), "x")
    found = re.findall(r' id="([^"]*)"', svg)
    assert {"x-limit", "x-limit-2", "x-interval-0", "x-interval-0-2"} <= set(found)
    assert len(found) == len(set(found))
    used = re.findall(r'href="#([^"]*)"|url\(#([^)]*)\)', svg)
    assert {one or other for one, other in used} <= set(found)


# spectra


def test_spectra_keep_every_sample_and_every_gap_in_the_unit_of_people(light):
    """1 W m-2 is 0.1 mW/cm² (SI)."""
    ax = pictures.spectra(light).axes[0]
    assert ax.get_ylabel() == "spectral irradiance [mW/cm²/nm]"
    assert ax.get_xlabel() == "wavelength in air [nm]"
    for row, line in zip(light.values, curves_of(ax), strict=True):
        np.testing.assert_array_equal(line.get_xdata(), light.wavelength.values)
        np.testing.assert_allclose(line.get_ydata(), 0.1 * row, rtol=1e-6)
    assert np.isnan(light.sel(source="arc")).any()
    assert legend_of(ax) == [*light.source.values, "gap: not valid"]
    (mark,) = (line for line in ax.lines if line.get_marker() == "x")
    saturated = light.wavelength.values[np.isnan(light.sel(source="arc").values)]
    assert saturated[0] <= mark.get_xdata()[0] <= saturated[-1]


def test_spectra_in_another_unit(light):
    ax = pictures.spectra(light, units="W/m^2/nm").axes[0]
    assert ax.get_ylabel() == "spectral irradiance [W/m²/nm]"
    np.testing.assert_allclose(ax.lines[0].get_ydata(), light.values[0], rtol=1e-6)


@pytest.mark.parametrize(
    ("quantity", "label", "factor"),
    [
        ("counts", "raw counts", 1),
        ("signal", "counts per second [s⁻¹]", 1),
        ("transmittance", "transmittance [%]", 100),
        ("absorbance", "decadic absorbance", 1),
        ("responsivity", "responsivity: counts per second by spectral irradiance [m² nm W⁻¹ s⁻¹]", 1),
        ("molar_absorption_coefficient", "decadic molar absorption coefficient [L mol⁻¹ cm⁻¹]", 1),
    ],
)
def test_every_quantity_has_its_name_and_unit(quantity, label, factor):
    ax = pictures.spectra(sb.spectrum([0.25, 0.5], [365.0, 366.0], quantity)).axes[0]
    assert ax.get_ylabel().replace("\n", " ") == label
    assert cut_off(ax.figure) == []
    assert ax.lines[0].get_ydata().tolist() == [0.25 * factor, 0.5 * factor]


def test_draws_become_the_band_of_their_interval(uncertain):
    passed = uncertain["parts/transmittance"].sel(wavelength=slice(380, 400)).astype(float)
    said = sb.summarize(passed)
    ax = pictures.spectra(passed).axes[0]
    assert legend_of(ax)[-1] == "band: 95 % interval"
    np.testing.assert_allclose(ax.lines[0].get_ydata(), 100 * said.value.values[0])
    (band,) = ax.collections
    heights = {round(y, 9) for y in band.get_paths()[0].vertices[:, 1].tolist()}
    expected = 100 * np.concatenate([said.low.values[0], said.high.values[0]])
    assert {round(y, 9) for y in expected.tolist()} <= heights


def test_a_band_is_shaded_where_it_was_asked_for(light):
    ax = pictures.spectra(light, band=("320 nm", "0.43 µm")).axes[0]
    (shade,) = (patch for patch in ax.patches if patch.get_gid() == "band")
    assert shade.get_extents().transformed(ax.transData.inverted()).intervalx == pytest.approx([320, 430])
    assert "320–430 nm" in ax.get_legend().get_title().get_text()


def test_a_source_keeps_its_colour_and_dashes_when_others_are_left_out(light, reduced, cube):
    whole = curves_of(pictures.spectra(light).axes[0])
    for ax in (
        pictures.spectra(light, sources=["LED 365", "LED 405"]).axes[0],
        pictures.light_path(reduced, sources=["LED 405", "LED 365"]).axes[0],
        pictures.sweep(cube, sources=["LED 365", "LED 405"]).axes[0],
    ):
        for place, line in zip((2, 4), curves_of(ax), strict=True):
            assert line.get_color() == whole[place].get_color()
            assert line.get_linestyle() == whole[place].get_linestyle()


def test_a_logarithmic_axis_reaches_as_far_down_as_something_was_measured():
    values = [1e-9, -1.0, 0.0, 2e-3, 1.0]
    data = sb.spectrum(values, np.arange(5.0) + 365, "signal")
    ax = pictures.spectra(data, log=True).axes[0]
    assert ax.get_yscale() == "log"
    low, high = ax.get_ylim()
    assert 1e-7 < low < 1e-6  # six powers of ten
    assert high > 1
    assert not [text for text in words_of(svg_of(ax.figure)) if "$" in text or "math" in text]


def test_what_lies_clearly_below_0_is_shown():
    data = sb.spectrum([-5.0, 10.0, 3.0], [365.0, 366.0, 367.0], "signal")
    assert pictures.spectra(data).axes[0].get_ylim()[0] < -5
    assert pictures.spectra(data + 5.2).axes[0].get_ylim()[0] == 0


def test_many_spectra_are_drawn_alike_and_counted():
    grid = {"wavelength": [365.0, 366.0]}
    many = xr.DataArray(np.ones((40, 2)), grid, ("spectrum", "wavelength"), attrs={"units": "1"})
    ax = pictures.spectra(many).axes[0]
    assert len(ax.lines) == 40
    assert {line.get_color() for line in ax.lines} == {SOURCES[0]}
    assert legend_of(ax) == ["40 curves, drawn alike"]
    assert legend_of(pictures.spectra(many[:2]).axes[0]) == ["spectrum 1", "spectrum 2"]
    of_hours = many[:2].rename(spectrum="hours").assign_coords(hours=("hours", [0.0, 1500.0], {"units": "h"}))
    assert legend_of(pictures.spectra(of_hours).axes[0]) == ["hours 0 h", "hours 1500 h"]


def test_spectra_of_two_files_are_laid_over_each_other(light):
    one = light.sel(source="LED 405", drop=True)
    coarse = sb.spectrum([0.0, 40.0, 0.0], [390.0, 405.0, 1000.0], "spectral_irradiance")
    other = (0.1 * coarse).assign_attrs(units="mW/cm^2/nm")
    ax = pictures.spectra({"on the bench": one, "data sheet": other}).axes[0]
    assert legend_of(ax) == ["on the bench", "data sheet"]
    assert ax.get_xlim() == (pytest.approx(float(light.wavelength[0])), 1000)
    np.testing.assert_allclose(curves_of(ax)[1].get_ydata(), [0, 4, 0])
    assert len({line.get_color() for line in curves_of(ax)}) == 2
    both = pictures.spectra({"today": light, "again": light}, sources=["arc", "LED 405"]).axes[0]
    assert legend_of(both)[:4] == ["today, arc", "today, LED 405", "again, arc", "again, LED 405"]
    with pytest.raises(UnitsError, match="cannot be converted"):
        pictures.spectra({"light": one, "part": sb.spectrum([1.0, 1.0], [1.0, 2.0], "transmittance")})


def test_spectra_that_cannot_be_drawn(light, reduced):
    with pytest.raises(
        GridError, match=r"spectra of one quantity are drawn, and this is a Dataset: .*: give"
    ):
        pictures.spectra(reduced["sources"].to_dataset())
    with pytest.raises(GridError, match='an array with a dimension wavelength, not with "time"'):
        pictures.spectra(xr.DataArray([1.0], dims="time"))
    with pytest.raises(GridError, match='an array with a dimension wavelength, not "nothing"'):
        pictures.spectra("nothing")
    with pytest.raises(GridError, match=r'this is a DataTree: .*"spectral_irradiance"'):
        pictures.spectra(reduced["sources"])
    with pytest.raises(GridError, match="there is nothing to draw: give at least one spectrum"):
        pictures.spectra({})
    with pytest.raises(GridError, match="wavelengths out of order"):
        pictures.spectra(xr.DataArray([1.0, 2.0, 3.0], {"wavelength": [1.0, 3.0, 2.0]}, "wavelength"))
    with pytest.raises(RangeError, match=r"a band runs upwards from above 0 nm, not from 430 nm to 320 nm"):
        pictures.spectra(light, band=(430, 320))
    with pytest.raises(UnitsError, match='without a unit cannot be drawn in "W/m²/nm": give them attrs'):
        pictures.spectra(light.drop_attrs(), units="W/m²/nm")
    with pytest.raises(UnitsError, match="cannot be converted"):
        pictures.spectra(light, units="V")
    with pytest.raises(RangeError, match="a picture is 60 mm to 600 mm wide, not 5 mm"):
        pictures.spectra(light, width=5)


def test_sources_that_cannot_be_chosen(light, reduced, result):
    for draw in (
        lambda names: pictures.spectra(light, sources=names),
        lambda names: pictures.light_path(reduced, sources=names),
        lambda names: pictures.comparison(result, sources=names),
        lambda names: pictures.by_depth(result, sources=names),
    ):
        with pytest.raises(RangeError, match='there is no source "LED 999"; there are "arc", "arc, f'):
            draw(["arc", "LED 999"])
        with pytest.raises(RangeError, match="no source is to be shown; there are"):
            draw([])
    with pytest.raises(RangeError, match="chosen of data with a dimension source, which these have not"):
        pictures.spectra(reduced["parts/transmittance"], sources=["arc"])


def test_what_is_no_comparison_no_sweep_and_no_bench(reduced, result, light):
    for draw in (pictures.comparison, pictures.by_depth, pictures.budget):
        for other in (reduced, light, xr.Dataset()):
            with pytest.raises(RangeError, match=r"this is no comparison: make one with compare\(bench\)"):
                draw(other)
    with pytest.raises(RangeError, match=r"this is no sweep: make one with sweep\(bench, thickness="):
        pictures.sweep(reduced)
    with pytest.raises(
        RangeError, match="drawn of a bench, not of a result: give its folder, or what reduce_bench gave"
    ):
        pictures.light_path(result)


# light path and depth


def test_light_path_shows_band_data_sheet_and_what_is_saturated(reduced):
    words = words_of(svg_of(pictures.light_path(reduced)))
    for text in ("required band 320–430 nm", "data sheet 365 nm", "gap: not valid", "initiator A", "cover"):
        assert words.count(text) == 1
    assert words.count("mW/cm²/nm") == 2


def test_a_bench_without_saturation_shows_no_gap(reduced):
    whole = reduced.copy()
    sources = reduced["sources"].to_dataset()
    whole["sources"] = sources.assign(spectral_irradiance=sources["spectral_irradiance"].fillna(0.0))
    assert "gap: not valid" not in legend_of(pictures.light_path(whole).axes[0])


def test_a_source_that_is_saturated_everywhere_is_drawn_as_a_gap(reduced):
    lost = reduced.copy()
    sources = reduced["sources"].to_dataset().copy(deep=True)
    sources["spectral_irradiance"].loc[{"source": "LED 405"}] = np.nan
    lost["sources"] = sources
    assert "gap: not valid" in legend_of(pictures.light_path(lost).axes[0])


def test_by_depth_has_a_curve_for_each_source_and_a_scale_for_people(result):
    """1 mmol/L is 10⁶ µmol m-3 (SI)."""
    (ax,) = pictures.by_depth(result).axes
    assert ax.get_xlabel() == "depth below the front of the bond line [µm]"
    assert ax.get_ylabel() == "mmol/L/s"
    assert legend_of(ax)[: result.sizes["source"]] == result.source.values.tolist()
    for line, profile in zip(lines_of(ax, "depth-"), result.absorbed_by_depth.values, strict=True):
        np.testing.assert_allclose(line.get_ydata(), 1e-6 * profile)
        np.testing.assert_allclose(line.get_xdata(), 1e6 * result.depth.values)


def test_by_depth_names_what_is_not_known_and_what_absorbs_nothing(result):
    lost = result.copy(deep=True)
    lost["absorbed_by_depth"].loc[{"source": "arc"}] = np.nan
    lost["absorbed_by_depth"].loc[{"source": "LED 365"}] = 0.0
    picture = pictures.by_depth(lost, width="112 mm")
    assert {"arc: not known", "LED 365: nothing"} < set(legend_of(picture.axes[0]))
    assert "LED 365: nothing" in picture.words
    drawn = [line for line in lines_of(picture.axes[0], "depth-") if np.isfinite(line.get_ydata()).any()]
    assert len(drawn) == result.sizes["source"] - 2
    lost["absorbed_by_depth"][:] = np.nan
    assert "nan" not in as_svg(pictures.by_depth(lost), "x").lower()


@pytest.mark.parametrize(("ratio", "logarithmic"), [(10.0, False), (1e3, True), (1e9, True)])
def test_by_depth_is_logarithmic_where_the_range_needs_it(result, ratio, logarithmic):
    steep = result.isel(source=[0]).copy(deep=True)
    steep["absorbed_by_depth"][:] = 1e7 * ratio ** -np.linspace(0, 1, steep.sizes["depth"])
    picture = pictures.by_depth(steep)
    assert (picture.axes[0].get_yscale() == "log") == logarithmic
    words = words_of(svg_of(picture))
    assert ("0.001" in words) == (ratio == 1e9)
    assert "10⁻⁴" not in words  # four powers of ten are shown, and no more


def test_by_depth_marks_what_oxygen_uses_up(result):
    assert "what oxygen uses up" not in legend_of(pictures.by_depth(result).axes[0])
    assert "what oxygen uses up" in legend_of(pictures.by_depth(result.assign(required_at_back=2e6)).axes[0])


# comparison


def test_comparison_draws_figures_intervals_and_limits_where_the_data_say(drawn):
    """60 mW/cm² and 30 s are required in the demo's manifest; 1 W m-2 is 0.1 mW/cm²."""
    picture = pictures.comparison(drawn, figures=["band_irradiance", "exposure_time"])
    ordered = drawn.isel(source=np.argsort(drawn.place.values))
    for ax, key, factor, limit, words in (
        (picture.axes[0], "band_irradiance", 0.1, 60.0, "at least 60 mW/cm²"),
        (picture.axes[1], "exposure_time", 1.0, 30.0, "at most 30 s"),
    ):
        said = sb.summarize(ordered[key])
        dots = [line for line in ax.lines if line.get_marker() == "o"]
        np.testing.assert_allclose([dot.get_xdata()[0] for dot in dots], factor * said.value.values)
        for row, line in enumerate(lines_of(ax, "interval-")):
            ends = [factor * float(said[end][row]) for end in ("low", "high")]
            assert list(line.get_xdata()) == pytest.approx(ends)
        (marked,) = lines_of(ax, "limit")
        assert list(marked.get_xdata()) == pytest.approx([limit] * 2)
        assert legend_of(ax) == [words]
        names = [label.get_text() for label in ax.get_yticklabels()]
        assert names == [f"{place + 1}. {name}" for place, name in enumerate(ordered.source.values)]
        assert ax.get_xlim()[0] == 0
        verdicts = ordered.verdict.sel(criterion="irradiance" if key == "band_irradiance" else "time").values
        beside = [text.get_text().splitlines()[1] for text in ax.texts]
        assert [text[2:] for text in beside] == verdicts.tolist()
        assert [text[0] for text in beside] == [{"met": "✓", "not met": "✗"}.get(v, "?") for v in verdicts]


def test_comparison_shows_every_figure_that_has_a_limit_and_each_limit_of_its_own(drawn):
    picture = pictures.comparison(drawn)
    limited = np.isfinite(drawn.limit).any("source")
    assert len(picture.axes) == len(set(drawn.judged_by.values[limited.values]))
    titles = [ax.get_legend().get_title().get_text().replace("\n", " ") for ax in picture.axes]
    ax = picture.axes[titles.index("Irradiance in the required band at the end of life, at full setting")]
    (marks,) = lines_of(ax, "limit")
    ordered = drawn.isel(source=np.argsort(drawn.place.values))
    expected = 0.1 * ordered.limit.sel(criterion="end of life").values
    assert len(set(expected)) > 1
    np.testing.assert_allclose(marks.get_xdata(), expected)
    assert legend_of(ax) == ["at least, each its own"]


def test_comparison_counts_degrees_from_the_melting_of_ice_and_says_what_is_not_known(drawn):
    ax = pictures.comparison(drawn, figures=["peak_temperature"]).axes[0]
    assert ax.get_xlabel() == "°C"
    (marked,) = lines_of(ax, "limit")
    assert marked.get_xdata()[0] == pytest.approx(85)  # in the demo's manifest
    assert "not known\n? not known" in [text.get_text() for text in ax.texts]


def test_comparison_without_draws_has_no_interval(result):
    ax = pictures.comparison(result, figures=["exposure_time"], log=True).axes[0]
    assert lines_of(ax, "interval-") == []
    assert ax.get_xscale() == "log"
    assert ax.get_xlabel() == "s, logarithmic"


def test_a_figure_under_two_criteria_names_them(result):
    both = xr.concat(
        [result, result.sel(criterion=["time"]).assign_coords(criterion=["shift"])],
        "criterion",
        data_vars="minimal",
        coords="minimal",
        compat="override",
        join="outer",
    )
    both["limit"].loc[{"criterion": "shift"}] = 600.0
    ax = pictures.comparison(both, figures=["exposure_time"]).axes[0]
    assert legend_of(ax) == ["at most 30 s (time)", "at most 600 s (shift)"]
    assert "✓ met (time)" in ax.texts[0].get_text()


def test_comparisons_that_cannot_be_drawn(result):
    with pytest.raises(RangeError, match=r"there is no figure \"beauty\"; there are .*\"band_irradiance\""):
        pictures.comparison(result, figures=["beauty"])
    with pytest.raises(RangeError, match="no figure is to be shown; there are"):
        pictures.comparison(result, figures=[])
    free = result.assign(limit=result.limit * np.nan)
    with pytest.raises(RangeError, match='nothing is required of any figure: name some, such as "peak'):
        pictures.comparison(free)


# budget


def test_budget_shows_every_share_and_puts_the_small_ones_together(drawn):
    picture = pictures.budget(drawn, "band_irradiance", causes=3)
    shares = drawn.variance_share.sel(figure="band_irradiance")
    order = np.argsort(drawn.place.values)
    for ax, name in zip(picture.axes, drawn.source.values[order], strict=True):
        causes = [label.get_text().replace("\n", " ") for label in picture.axes[0].get_yticklabels()]
        bars = dict(zip(causes, (bar.get_width() for bar in ax.patches), strict=True))
        assert ax.get_title(loc="left").startswith(str(name))
        assert sum(bars.values()) == pytest.approx(1)
        for cause in causes[:3]:
            assert bars[cause] == pytest.approx(float(shares.sel(source=name, cause=cause)))
        assert causes[3] == f"{shares.sizes['cause'] - 3} others"
        assert causes[:3] == ["distance", "lamp calibration", "position of the part"]
        assert bars[causes[3]] == pytest.approx(0.02 + 0.1 + 0.03)
    assert "distance 50 %, lamp calibration 20 %, position of the part 15 %, 3 others 15 %." in picture.words


def test_budget_names_all_causes_if_asked_to(drawn):
    picture = pictures.budget(drawn, sources=["LED 405"], causes=99)
    labels = {label.get_text().replace("\n", " ") for label in picture.axes[0].get_yticklabels()}
    assert labels == set(drawn.cause.values.tolist())


def test_a_source_of_which_nothing_is_known_has_no_bars(drawn):
    picture = pictures.budget(drawn, "irradiance_at_part", sources=["arc"])
    assert "arc, not known: not known." in picture.words
    assert "not known" in [text.get_text() for text in picture.axes[0].texts]


def test_budgets_that_cannot_be_drawn(result, drawn):
    with pytest.raises(RangeError, match=r"does not say what each cause .* compare\(bench, draws=1000, "):
        pictures.budget(result)
    with pytest.raises(RangeError, match='"beauty" was not worked out; it was for "irradiance_at_part"'):
        pictures.budget(drawn, "beauty")
    with pytest.raises(RangeError, match="one cause or more has to be named, not 0"):
        pictures.budget(drawn, causes=0)


# sweep


def test_sweep_draws_the_mean_its_interval_and_the_limit(cube, drawn):
    said = sb.summarize(cube.exposure_time)
    for limit in ("30 s", 30.0, "0.5 min", drawn):
        ax = pictures.sweep(cube, "exposure_time", limit=limit).axes[0]
        (line,) = lines_of(ax, "limit")
        assert list(line.get_ydata()) == pytest.approx([30] * 2)
        assert legend_of(ax)[-1] == "at most 30 s"
    assert legend_of(ax)[-2] == "band: 95 % interval"
    assert ax.get_xlabel() == "thickness of the last part [mm]"
    assert [label.get_text() for label in ax.get_xticklabels()] == ["1", "2"]
    for line, row in zip(lines_of(ax, "sweep-"), said.value.values, strict=True):
        np.testing.assert_allclose(line.get_ydata(), row)
    assert len(ax.collections) == cube.sizes["source"]


def test_sweep_says_where_a_figure_has_no_end_or_is_not_known(cube):
    one = sb.summarize(cube.exposure_time).value.assign_attrs(cube.exposure_time.attrs).copy(deep=True)
    one[0], one[1, 0], one[2] = [9.0, np.inf], np.nan, np.inf
    ax = pictures.sweep(one.to_dataset(name="exposure_time")).axes[0]
    names = legend_of(ax)
    assert names[:3] == ["arc: never at 2 mm", "arc, filtered: not known at 1 mm", "LED 365: never"]
    assert np.isnan(lines_of(ax, "sweep-0")[0].get_ydata()).tolist() == [False, True]


def test_sweep_of_what_is_enough_is_a_table_of_verdicts(cube):
    one = cube.sel(thickness=2).copy(deep=True)
    one["enough"].loc[{"source": "LED 365", "time": 30}] = 0.6
    one["enough"].loc[{"source": "arc", "time": 30}] = np.nan
    ax = pictures.sweep(one, "enough").axes[0]
    said = [text.get_text() for text in ax.texts]
    table = dict(zip(map(str, one.source.values), np.reshape(said, (-1, 3)).tolist(), strict=True))
    assert table["LED 405"] == ["✗ not met", "✓ met", "✓ met"] or "%" in table["LED 405"][1]
    assert table["LED 365"][2] == "? not known, 60 %"
    assert table["arc"][2] == "? not known"
    assert ax.get_legend().get_title().get_text() == "Is the exposure long enough, thickness 2 mm?"


def test_sweeps_that_cannot_be_drawn(cube, result):
    with pytest.raises(RangeError, match=r"the sweep has no figure \"beauty\"; it has \"band_irradiance\""):
        pictures.sweep(cube, "beauty")
    with pytest.raises(RangeError, match='"enough" runs along "thickness", "time": say along which'):
        pictures.sweep(cube, "enough")
    with pytest.raises(RangeError, match='"exposure_time" runs along "thickness", not along "time"'):
        pictures.sweep(cube, along="time")
    with pytest.raises(
        RangeError, match=r"2 steps of thickness as well: choose one first, as in cube.sel\(thickness=1\)"
    ):
        pictures.sweep(cube, "enough", along="time")
    with pytest.raises(UnitsError, match="cannot be converted"):
        pictures.sweep(cube, limit="30 mm")
    with pytest.raises(RangeError, match='requires nothing of "radiant_exposure": give the limit itself'):
        pictures.sweep(cube.sel(time=6), "radiant_exposure", limit=result)
    several = result.assign(limit=result.limit + xr.DataArray(np.arange(5.0), dims="source"))
    with pytest.raises(RangeError, match=r"the comparison requires 5 different things of \"exposure_time\""):
        pictures.sweep(cube, limit=several)


# ageing


def aged(draws):
    """An invented log that loses exactly a ten-thousandth of its output in each hour, and its fit."""
    hours = np.array([0.0, 300.0, 600.0, 900.0, 1200.0])
    output = xr.DataArray(600 * np.exp(-1e-4 * hours), dims="hours", attrs={"units": "W m-2"})
    return (
        hours,
        output,
        sb.fit_ageing(hours, output * xr.DataArray(np.linspace(0.9, 1.1, draws), dims="draw")),
    )


def test_ageing_draws_log_fit_interval_limit_and_hours():
    """Closed form: 60 mW/cm² times exp(-1e-4 h), and ± 9.5 % of 201 draws spread over ± 10 %, to a draw."""
    hours, output, fit = aged(201)
    marks = {"today": 1200, "next lamp": "125 d"}
    picture = pictures.ageing(hours, output, fit, until="5000 h", limit="42 mW/cm^2", marks=marks, width=85)
    assert cut_off(picture) == []
    (ax,) = picture.axes
    (log,), (line,), (limit,), (today, lamp) = (
        lines_of(ax, name) for name in ("log", "fit", "limit", "mark")
    )
    np.testing.assert_allclose(log.get_ydata(), 0.1 * output)
    at = np.asarray(line.get_xdata())
    np.testing.assert_allclose(line.get_ydata(), 60 * np.exp(-1e-4 * at), rtol=1e-9)
    (band,) = (one for one in ax.collections)
    start = sorted({round(y, 6) for x, y in band.get_paths()[0].vertices if x == 0})
    assert (start[0], start[-1]) == (pytest.approx(54.3, abs=0.061), pytest.approx(65.7, abs=0.061))
    assert list(limit.get_ydata()) == pytest.approx([42] * 2)
    assert (today.get_xdata()[0], lamp.get_xdata()[0]) == (1200, 3000)
    (beyond,) = (patch for patch in ax.patches if patch.get_gid() == "beyond")
    assert beyond.get_extents().transformed(ax.transData.inverted()).intervalx == pytest.approx([1200, 5000])
    names = ["log", "fit", "band: 95 % interval", "at least 42 mW/cm²", "today: 1200 h", "next lamp: 3000 h"]
    assert legend_of(ax) == [*names, "carried on, not measured"]
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("hours of use [h]", "mW/cm²")
    assert "at 5000 h: fit 36.4 mW/cm² (32.9–39.8)" in picture.words
    assert ax.get_ylim()[0] == 0


def test_a_log_alone_and_fits_by_name():
    hours, output, fit = aged(20)
    picture = pictures.ageing(hours[::-1], output[::-1])
    assert legend_of(picture.axes[0]) == ["log"]
    assert picture.words == "The log goes from 60 mW/cm² to 53.2 mW/cm² at 1200 h."
    one = sb.fit_ageing(hours, output)
    both = pictures.ageing(hours, output, {"drawn": fit, "one": one}, title="LED 405").axes[0]
    assert legend_of(both) == ["log", "drawn", "one", "band: 95 % interval"]
    assert both.get_legend().get_title().get_text() == "LED 405"


def test_logs_that_cannot_be_drawn():
    hours, output, fit = aged(20)
    with pytest.raises(GridError, match=r"one output for each hour is drawn, not \(4,\) for \(5,\)"):
        pictures.ageing(hours, output[:4])
    with pytest.raises(RangeError, match="a log without points cannot be drawn"):
        pictures.ageing([], [])
    with pytest.raises(RangeError, match="the log goes to 1200 h, and the picture would end at 10 h: let it"):
        pictures.ageing(hours, output, fit, until=10)
    with pytest.raises(UnitsError, match="cannot be converted"):
        pictures.ageing(hours, output, limit="30 s")


# colours


@pytest.mark.parametrize("mode", [0, 1], ids=["light", "dark"])
@pytest.mark.filterwarnings("ignore:.*simulation of tritanomaly is based on the shift:Warning")
@pytest.mark.parametrize("lost", [None, "Protanomaly", "Deuteranomaly", "Tritanomaly"])
def test_sources_differ_for_every_kind_of_colour_vision(mode, lost):
    """Colour vision after Machado et al. (2009), distance by CIEDE2000, both from colour-science.

    Two colours that differ by 2 to 3 can just be told apart side by side (common practice, no source);
    lines that lie apart need several times as much.
    """
    sources = [pair[mode] for name, pair in COLOURS.items() if name.startswith("source")]
    encoded = np.array([[int(hexed[i : i + 2], 16) / 255 for i in (1, 3, 5)] for hexed in sources])
    linear = colour.models.eotf_sRGB(encoded)
    if lost:
        linear = np.clip(linear @ colour.matrix_cvd_Machado2009(lost, 1.0).T, 0, 1)
    lab = colour.XYZ_to_Lab(colour.RGB_to_XYZ(linear, "sRGB"))
    apart = colour.delta_E(lab[:, None], lab[None], method="CIE 2000")
    assert apart[~np.eye(len(sources), dtype=bool)].min() > 15
