"""What arrives at the bond line and what it does there, with resin, uneven light, haze and oxygen."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

from spectralbench.comparison import FIGURES, Requirement, figures_at_bond_line
from spectralbench.comparison import figures as module

GRID = np.array([364.0, 365.0, 366.0, 404.0, 405.0, 406.0])
NAMES = ["near 365", "near 405"]
LINES = np.array([[0.0, 10, 0, 0, 0, 0], [0, 0, 0, 0, 10.0, 0]])  # triangles of 10 W m-2 each
JOULE = 1e-9 / (6.62607015e-34 * 299792458 * 6.02214076e23) * 1e6  # µmol of photons in a joule, by nm
THICKNESS = 1.5e-4


def rows(values, dimension, names, units="1"):
    along = {dimension: names, "wavelength": GRID}
    array = xr.DataArray(np.asarray(values, float), along, (dimension, "wavelength"))
    return array.assign_attrs(units=units)


def even(value, dimension, name):
    return rows(np.full((1, 6), value), dimension, [name])


def along(value):
    return xr.DataArray(np.full(6, value), {"wavelength": GRID}, "wavelength", attrs={"units": "1"})


def by_source(*values):
    return xr.DataArray(list(values), {"source": NAMES}, "source", attrs={"units": "1"})


LIGHT = rows(LINES, "source", NAMES, "W m-2 nm-1")
COVER = even(0.5, "part", "cover")
FILM = rows([[1.0, 1, 1, 0.5, 0.5, 0.5], [0, 0, 0, 0.5, 0.5, 0.5]], "initiator", ["a", "b"])


def needed(**changes):
    return Requirement(
        **{"low": 364, "high": 406, "minimum_irradiance": 4.0, "dose": 40.0, "data_sheet_wavelength": 365.0}
        | changes
    )


NEEDED = needed()


def found(needed=NEEDED, light=LIGHT, part=COVER, film=FILM, **others):
    return figures_at_bond_line(light, part, film, needed, **others)


def test_a_film_of_several_shares_what_it_absorbs():
    """Of 5 W m-2 a film of A in all takes 1 - 10^-A, and each absorber in it A_i/A of that."""
    result = found(background=along(0.5))
    taken = 5 * (1 - 10**-1.5) * np.array([[1.0, 0.0], [0.5, 0.5]]) / 1.5
    expected = taken * JOULE * np.array([[365.0], [405.0]])
    assert result.photons_by_initiator.transpose("source", ...).values == pytest.approx(expected)
    assert result.absorbed_photons.values == pytest.approx(expected.sum(axis=1))
    assert result.lost_irradiance.values == pytest.approx(5 * (1 - 10**-1.5) / 3)
    assert result.spectrum_match.values == pytest.approx((1 - 10**-1.5) * 2 / 3)


def test_the_data_sheet_was_written_for_the_same_resin():
    """Its photons are those that the initiators take beside the resin, by 365 nm."""
    result = found(background=along(0.5))
    expected = 4.0 * 365 * JOULE * (1 - 10**-1.5) / 1.5
    assert result.required_photons.item() == pytest.approx(expected)
    # near 365 nm just 5 / 4 of the data sheet's irradiance arrives
    ratio = result.absorbed_photons / result.required_photons
    assert ratio.sel(source="near 365").item() == pytest.approx(1.25)
    assert result.photon_time.sel(source="near 365").item() == pytest.approx(8.0)


def test_resin_that_absorbs_nothing_changes_nothing():
    clear, none = found(background=along(0.0)), found()
    for name in none.data_vars:
        if none[name].dtype.kind == "f":
            assert clear[name].values == pytest.approx(none[name].values, nan_ok=True), name
    assert (clear.lost_irradiance == 0).all()
    assert "lost_irradiance" not in none


def test_resin_alone_does_not_use_the_light():
    result = found(film=FILM * 0.0, background=along(2.0))
    assert (result.absorbed_photons == 0).all()
    assert result.lost_irradiance.values == pytest.approx(5 * 0.99)
    assert result.unused_irradiance.values == pytest.approx(5.0)
    assert np.isnan(result.required_photons)


@settings(max_examples=25)
@given(
    st.lists(st.floats(0.0, 3.0), min_size=6, max_size=6),
    st.lists(st.floats(0.0, 1.0), min_size=12, max_size=12),
    st.integers(0, 2**32 - 1),
)
def test_no_light_is_lost_or_made(background, parts, seed):
    """What arrives at the part stays in parts, in initiators, in resin, or passes: of whole spectra."""
    random = np.random.default_rng(seed)
    light = rows(random.uniform(0, 9, (2, 6)), "source", NAMES, "W m-2 nm-1")
    film = rows(random.uniform(0, 2, (2, 6)), "initiator", ["a", "b"])
    resin = xr.DataArray(background, {"wavelength": GRID}, "wavelength")
    part = rows(np.reshape(parts, (2, 6)), "part", ["cover", "window"])
    result = found(light=light, part=part, film=film, background=resin)
    passes = light * part.prod("part") * 10 ** -(film.sum("initiator") + resin)
    after = result.irradiance_after_parts.transpose("part", "source")
    kept = (result.irradiance_at_part - after[0]) + (after[0] - after[1])
    used = result.irradiance_at_bond * result.spectrum_match.fillna(0.0)
    whole = kept + used + result.lost_irradiance + passes.integrate("wavelength")
    assert whole.values == pytest.approx(result.irradiance_at_part.values, rel=1e-9, abs=1e-12)
    assert after[1].values == pytest.approx(result.irradiance_at_bond.values)
    assert (used + result.unused_irradiance).values == pytest.approx(result.irradiance_at_bond.values)


def test_how_the_light_fades_on_its_way():
    """Through half, a fifth, and the wetted face of a third part: the last one as it is bonded."""
    part = xr.concat([even(x, "part", str(x)) for x in (0.5, 0.2, 0.4)], "part")
    bonded = part * xr.DataArray([1.0, 1.0, 1.1], dims="part")
    result = found(part=part, bonded=bonded, regular=part * 0.5)
    after = result.irradiance_after_parts.transpose("source", "part")
    assert after.values == pytest.approx(np.array([[5.0, 1.0, 0.44]] * 2))
    assert after.attrs["units"] == "W m-2"
    assert result.kept_share.values == pytest.approx(1 - 0.044)
    assert result.band_irradiance_in_air.values == pytest.approx(0.4)
    assert result.band_irradiance_regular.values == pytest.approx(0.4 / 8)


def test_what_has_to_arrive_counts_where_the_bond_is_lit_least():
    """Irradiance, photons and what oxygen leaves go down; times and energy go up; the rest is as it was."""
    with_oxygen = needed(oxygen_threshold=0.1)
    others = {
        "bonded": COVER * 1.02,
        "regular": COVER * 0.5,
        "background": along(0.5),
        "electrical_power": by_source(40.0, 50.0).assign_attrs(units="W"),
        "thickness": THICKNESS,
    }
    plain = found(with_oxygen, **others)
    result = found(with_oxygen, least_lit=by_source(0.8, np.nan), **others)
    share = np.array([0.8, 1.0])  # nobody scanned the other: its middle counts
    down = ("band_irradiance", "band_irradiance_in_air", "band_irradiance_regular", "absorbed_photons")
    for name in (*down, "photons_at_back", "photons_by_initiator"):
        expected = (plain[name].transpose("source", ...).T * share).T
        assert result[name].transpose("source", ...).values == pytest.approx(expected.values), name
    for name in ("dose_time", "photon_time", "exposure_time", "electrical_energy"):
        assert result[name].values == pytest.approx(plain[name].values / share), name
    same = ("irradiance_at_part", "irradiance_at_bond", "kept_share", "spectrum_match", "unused_irradiance")
    for name in (*same, "lost_irradiance", "irradiance_after_parts", "required_photons", "required_at_back"):
        assert result[name].values == pytest.approx(plain[name].values), name
    assert result.photons_by_initiator.sum("initiator").values == pytest.approx(
        result.absorbed_photons.values
    )


@pytest.mark.parametrize("resin", [None, 0.5])
def test_the_back_is_as_fast_as_oxygen_where_its_irradiance_is_the_threshold(resin):
    """By one wavelength: E 10^-A at the back against a threshold that was seen in a thin film."""
    whole = 1.0 + (resin or 0.0)
    threshold = 5 * 10**-whole  # just what of 5 W m-2 gets through to the back
    result = found(
        needed(oxygen_threshold=threshold),
        background=None if resin is None else along(resin),
        thickness=THICKNESS,
    )
    rate = threshold * 365 * JOULE * np.log(10) * 1.0 / THICKNESS  # of the initiators alone
    assert result.required_at_back.item() == pytest.approx(rate)
    assert result.photons_at_back.sel(source="near 365").item() == pytest.approx(rate)


def test_at_another_wavelength_photons_count_against_oxygen():
    """At 405 nm both take 1 in all, as at 365 nm: 405 / 365 of the photons by a joule."""
    result = found(needed(oxygen_threshold=0.5), thickness=THICKNESS)
    ratio = result.photons_at_back / result.required_at_back
    assert ratio.values == pytest.approx([1.0, 405 / 365])


def test_a_thicker_bond_line_is_slower_at_its_back():
    """Twice as thick with twice the absorbance: 10^-A less at the back, and the same threshold."""
    thin = found(needed(oxygen_threshold=0.5), thickness="0.15 mm")
    thick = found(needed(oxygen_threshold=0.5), film=FILM * 2, thickness="0.3 mm")
    assert thick.required_at_back.item() == pytest.approx(thin.required_at_back.item())
    assert thick.photons_at_back.values == pytest.approx(thin.photons_at_back.values / 10)


def test_what_oxygen_uses_up_is_not_known_without_an_initiator_at_the_data_sheet():
    film = FILM.where(FILM.wavelength > 380, 0.0)
    result = found(needed(oxygen_threshold=0.5), film=film, thickness=THICKNESS)
    assert np.isnan(result.required_at_back)
    assert result.photons_at_back.sel(source="near 405") > 0


def test_there_is_no_back_without_a_threshold_or_a_bond_line():
    assert "photons_at_back" not in found(thickness=THICKNESS)
    assert "photons_at_back" not in found(needed(oxygen_threshold=0.5))


def test_draws_go_with_their_own_resin_and_bond_line():
    draw = xr.DataArray([0.5, 1.0, 2.0], dims="draw")
    drawn = {"background": (along(0.5) * draw).transpose("draw", ...), "thickness": THICKNESS * draw}
    threshold = needed(oxygen_threshold=0.5)
    together = found(threshold, film=(FILM * draw).transpose("draw", ...), **drawn)
    for i, factor in enumerate(draw.values):
        alone = found(
            threshold, film=FILM * factor, background=along(0.5 * factor), thickness=THICKNESS * factor
        )
        for name in ("absorbed_photons", "lost_irradiance", "photons_at_back", "exposure_time"):
            one = together[name].isel(draw=i).transpose("source", ...)
            assert one.values == pytest.approx(alone[name].values), name
        for name in ("required_photons", "required_at_back"):
            assert together[name].isel(draw=i).item() == pytest.approx(alone[name].item()), name


def test_many_initiators_of_single_precision_are_not_more_than_all():
    """Where resin absorbs nothing, the sum of all is the whole, in whatever order it is taken."""
    random = np.random.default_rng(1)
    values = random.uniform(0, 1, (7, 50, 6)).astype("float32")
    film = xr.DataArray(values, {"wavelength": GRID}, ("initiator", "draw", "wavelength"))
    none = xr.zeros_like(film.isel(initiator=0))
    result = found(film=film, background=none, needed=needed(oxygen_threshold=0.5), thickness=THICKNESS)
    assert (result.lost_irradiance == 0).all()


def test_sources_go_one_by_one_where_they_are_large(monkeypatch):
    others = {"background": along(0.5), "regular": COVER * 0.5, "thickness": THICKNESS}
    whole = found(needed(oxygen_threshold=0.5), **others)
    monkeypatch.setattr(module, "_AT_A_TIME", 1)
    xr.testing.assert_identical(found(needed(oxygen_threshold=0.5), **others), whole)


def test_every_figure_says_its_unit():
    others = {"background": along(0.5), "regular": COVER * 0.5, "thickness": THICKNESS, "bonded": COVER}
    result = found(needed(oxygen_threshold=0.5), **others)
    for name in ("lost_irradiance", "photons_at_back", "band_irradiance_regular", "band_irradiance_in_air"):
        assert result[name].attrs["units"] == FIGURES[name].units
        assert result[name].attrs["long_name"] == FIGURES[name].long_name
    assert result.required_at_back.attrs["units"] == "umol m-3 s-1"
