"""What stands above all advice: a radiometer that disagrees, and more light than power."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.benches.doubts import doubts

NOTHING = xr.Dataset(coords={"source": ["LED 405"]})


def bench(**said):
    data = xr.Dataset({name: ((), value) for name, value in said.items()})
    data.attrs = {"name": "meter (invented)", "source": "LED 405"}
    return xr.DataTree.from_dict({"/radiometer/1": data})


def lit(irradiance, power, width=8.0):
    values = {"irradiance_at_part": irradiance, "electrical_power": power, "spot_size": width}
    return xr.Dataset({name: ("source", [value]) for name, value in values.items()}, {"source": ["LED 405"]})


@pytest.mark.parametrize(
    ("said", "doubted"),
    [
        ({"ratio": 72.0, "agree": False}, True),
        ({"ratio": 1.2, "agree": True}, False),
        ({"ratio": 0.5}, True),
        ({"ratio": 1.2}, False),
        ({"ratio": np.nan}, False),
        ({}, False),
    ],
)
def test_a_radiometer_that_disagrees_stands_above_all_advice(said, doubted):
    found = doubts(bench(**said), NOTHING)
    assert len(found) == doubted
    if doubted:
        assert found[0].startswith(f"In doubt: under LED 405, meter (invented) shows {said['ratio']:g} times")
        assert "measure again before a trial" in found[0]


def test_no_source_sends_more_light_than_it_draws_power():
    """A disc of 8 mm with half of 10 W/cm² at its edge takes π · 0.16 cm² · 5 W/cm² = 2.5 W at least."""
    least = 5e4 * np.pi * 0.004**2
    assert least == pytest.approx(2.513, abs=1e-3)
    tree = xr.DataTree()
    assert doubts(tree, lit(1e5, 1.01 * least)) == []
    assert doubts(tree, lit(1e5, np.nan)) == []
    (said,) = doubts(tree, lit(1e5, 0.99 * least))
    assert "from LED 405 (2.51 W, and it draws 2.49 W): look at" in said


def test_the_advice_of_a_comparison_begins_with_it(reduced, small):
    wrong = sb.reduce_bench(small).copy()
    spectrum = wrong["sources/spectral_irradiance"]
    wrong["sources"] = wrong["sources"].to_dataset().assign(spectral_irradiance=spectrum * 1000.0)
    assert (
        sb.compare(wrong).attrs["advice"].startswith("In doubt: more light within its spot than power from")
    )
    assert not sb.compare(reduced).attrs["advice"].startswith("In doubt")
