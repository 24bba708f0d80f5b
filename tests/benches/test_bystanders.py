"""How long the direct beam may meet eyes or skin: the limit of near ultraviolet by hand, and its distance."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

import spectralbench as sb
from spectralbench.benches.folder import manifest_of
from spectralbench.errors import BenchError


@pytest.fixture(scope="module")
def original(lean):
    return lean


SAFETY = '[safety]\ndistance = "{}"\n\n[requirement]\n'


def test_near_ultraviolet_at_the_part(compared, reduced):
    """10⁴ J m-2 over 315–400 nm (EN 62471:2008; ICNIRP 2004): 9.5 kW m-2 near 365 nm take about 1 s."""
    light = reduced["sources"].spectral_irradiance.sel(source="LED 365")
    expected = 1e4 / sb.band_irradiance(light, 315, 400).item()
    assert compared.permitted_time.sel(source="LED 365").item() == pytest.approx(expected, rel=1e-9)
    assert "local codes and a qualified person decide" in compared.permitted_time.attrs["comment"]
    assert "not a classification" in compared.permitted_time.attrs["comment"]


def test_what_is_not_known_is_not_permitted(compared):
    assert np.isnan(compared.permitted_time.sel(source="arc"))  # saturated pixels have a weight


def test_farther_away_it_takes_longer_and_says_on_which_side_it_errs(bench):
    near = sb.compare(bench.folder).permitted_time
    bench.manifest("[requirement]\n", SAFETY.format("120 mm"))
    far = sb.compare(bench.folder).permitted_time
    disc = (3.0**2 + 120.0**2) / (3.0**2 + 30.0**2)  # of 6 mm, from where its beam was measured last
    source = manifest_of(sb.open_bench(bench.folder)).source[1]
    beam = {point.distance.value: point.irradiance.value for point in source.beam}
    expected = disc * beam[12.0] / beam[30.0]
    assert (far / near).sel(source=source.name).item() == pytest.approx(expected, rel=1e-9)
    assert far.attrs["label"] == "bare eye or skin at 120 mm"
    assert "a beam may be stronger there than computed, and the time shorter" in far.attrs["comment"]
    assert "noise of its pixels may add a little or take it" in far.attrs["comment"]


def test_nobody_is_computed_to_stand_before_the_part(bench):
    bench.manifest("[requirement]\n", SAFETY.format("5 mm"))
    with pytest.raises(BenchError, match=re.escape("safety.distance")) as caught:
        sb.compare(bench.folder)
    assert "closer than the 18 mm" in str(caught.value)


def test_cautions_stand_beside_it(compared):
    assert any("injures eyes and skin" in caution for caution in json.loads(compared.attrs["cautions"]))
