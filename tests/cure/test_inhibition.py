"""Inhibition by oxygen: by hand, at the limits, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.cure import inhibition_time, threshold_irradiance, wasted
from spectralbench.errors import RangeError, UnitsError

RATES = xr.DataArray([4e6, 1e6, 0.0, np.nan], dims="depth", attrs={"units": "umol m-3 s-1"})


def test_time_by_hand():
    # 1 mmol/L is 1e6 µmol/m3; 4e6 photons at half a radical each start 2e6 µmol m-3 s-1
    found = inhibition_time("1 mmol/L", RATES, 0.5)
    assert found.values == pytest.approx([0.5, 2.0, np.inf, np.nan], nan_ok=True)
    assert found.attrs["units"] == "s"
    assert inhibition_time("1 mmol/L", RATES, 0.5, radicals_per_oxygen=2.0)[0].item() == pytest.approx(1.0)


def test_without_oxygen_there_is_no_inhibition():
    assert inhibition_time(0.0, 0.0, 0.5).item() == 0.0
    assert inhibition_time(0.001, 1e6, 0.0).item() == np.inf


def test_draws_and_depths():
    oxygen = xr.DataArray([0.8e-3, 1.2e-3], dims="draw")
    assert inhibition_time(oxygen, RATES, 0.5).sizes == {"draw": 2, "depth": 4}


def test_wasted_light_is_marked():
    found = wasted(RATES, 1e6)
    assert found.values == pytest.approx([0, 0, 1, np.nan], nan_ok=True)
    assert found.attrs == {"units": "1", "long_name": "whether light is spent on oxygen alone"}
    assert wasted(RATES, xr.DataArray([1e5, 5e6], dims="draw")).mean("draw").values == pytest.approx(
        [0.5, 0.5, 1, np.nan], nan_ok=True
    )
    assert wasted("4 mol m-3 s-1", 5e6).item() == 1.0


def test_the_irradiance_at_the_threshold():
    found = threshold_irradiance("100 mW/cm^2", RATES, 2e6)
    assert found.values == pytest.approx([500.0, 2000.0, np.inf, np.nan], nan_ok=True)
    assert found.attrs["units"] == "W m-2"


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: inhibition_time(-1.0, 1.0, 1.0), "oxygen is 0 or more, not -1 mol/L"),
        (lambda: inhibition_time(1.0, -1.0, 1.0), "rate is 0 or more, not -1 umol m-3 s-1"),
        (lambda: inhibition_time(1.0, 1.0, -1.0), "radicals per photon is 0 or more, not -1"),
        (lambda: inhibition_time(1.0, 1.0, 1.0, -1.0), "radicals per oxygen is 0 or more, not -1"),
        (lambda: wasted(-1.0, 1.0), "rate is 0 or more, not -1"),
        (lambda: wasted(1.0, -1.0), "threshold is 0 or more, not -1"),
        (lambda: threshold_irradiance(-1.0, 1.0, 1.0), "irradiance is 0 or more, not -1 W m-2"),
        (lambda: threshold_irradiance(1.0, -1.0, 1.0), "rate is 0 or more, not -1"),
        (lambda: threshold_irradiance(1.0, 1.0, 0.0), "threshold is above 0, not 0 umol m-3 s-1"),
    ],
)
def test_what_means_nothing(call, said):
    with pytest.raises(RangeError, match=said):
        call()


def test_another_unit():
    with pytest.raises(UnitsError, match="rate: "):
        inhibition_time(1e-3, xr.DataArray(1.0, attrs={"units": "umol m-2 s-1"}), 0.5)
