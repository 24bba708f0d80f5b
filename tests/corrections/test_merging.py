"""Exposures of several lengths, merged: weights in closed form, noise by simulation."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from spectralbench.corrections import merge_exposures
from spectralbench.errors import GridError, RangeError, UnitsError

GRID = np.array([360.0, 365.0, 370.0, 375.0])
TIMES = np.array([0.01, 0.1, 1.0])
NAN = np.nan


def frame(values, time, grid=GRID, **attrs):
    values = np.asarray(values, float)
    dims = ("spectrum", "wavelength")[-values.ndim :]
    array = xr.DataArray(values, {"wavelength": grid[: values.shape[-1]]}, dims, attrs=attrs)
    return array.assign_coords(integration_time=time)


class TestWeights:
    def test_read_noise_and_shot_noise(self):
        """The mean weighted by reciprocal variances; its variance is the reciprocal of their sum."""
        merged = merge_exposures([frame([100.0], 0.1), frame([1010.0], 1.0)], 10.0, 2.0)
        pooled = 1110.0 / 1.1
        variances = [(100 + 1 / 12 + pooled * t / 2) / t**2 for t in (0.1, 1.0)]
        weights = [1 / v for v in variances]
        assert float(merged.signal[0]) == pytest.approx(np.average([1000, 1010], weights=weights), rel=1e-12)
        assert float(merged.standard_uncertainty[0]) == pytest.approx(sum(weights) ** -0.5, rel=1e-12)
        assert merged.share[:, 0].values == pytest.approx(np.array(weights) / sum(weights), rel=1e-12)
        assert merged.signal.attrs["units"] == merged.standard_uncertainty.attrs["units"] == "s-1"

    def test_scans_of_one_frame_count_as_often(self):
        four = merge_exposures([frame([[90.0], [110.0], [100.0], [100.0]], 0.1)], 10.0)
        one = merge_exposures([frame([100.0], 0.1)], 10.0)
        ratio = one.standard_uncertainty / four.standard_uncertainty
        assert float(ratio[0]) == pytest.approx(2, rel=1e-12)

    def test_what_is_saturated_gives_nothing(self):
        frames = [frame([NAN, NAN, 50.0, NAN], 1.0), frame([100.0, NAN, 5.0, 0.0], 0.1)]
        merged = merge_exposures(frames, tolerance="2 %")
        assert merged.signal.values == pytest.approx([1000, NAN, 50, 0], nan_ok=True)
        assert merged.integration_time.values.tolist() == [0.1, 1.0]
        assert merged.share[1].values == pytest.approx([0, 0, 0.91, 0], abs=0.01)
        assert np.isnan(merged.standard_uncertainty.values).tolist() == [False, True, False, False]
        np.testing.assert_allclose(merged.share.sum("spectrum"), [1, 0, 1, 1])

    @given(
        arrays(float, GRID.size, elements=st.floats(0, 1e6)),
        arrays(bool, (TIMES.size, GRID.size)),
        st.floats(0, 100),
        st.floats(0.1, 10),
    )
    @settings(max_examples=60)
    def test_never_worse_than_the_best_exposure(self, rates, saturated, noise, electrons):
        counts = np.where(saturated, NAN, rates * TIMES[:, None])
        frames = [frame(row, time) for row, time in zip(counts, TIMES, strict=True)]
        together = merge_exposures(frames, noise, electrons)
        alone = [merge_exposures([one], noise, electrons).standard_uncertainty for one in frames]
        best = xr.concat(alone, "spectrum").min("spectrum")
        assert (together.standard_uncertainty <= best * (1 + 1e-9) + 1e-300)[best.notnull().values].all()
        np.testing.assert_allclose(together.signal, np.where(saturated.all(axis=0), NAN, rates), rtol=1e-9)

    def test_the_uncertainty_is_that_of_simulated_noise(self):
        """2000 draws of two exposures, read noise of 20 counts, 0.5 electrons by count; no bias beside it."""
        random = np.random.default_rng(5)
        rate, frames = 4000.0, []
        for time in (0.05, 0.2):
            electrons = random.poisson(rate * time * 0.5, (2000, GRID.size))
            values = np.round(electrons / 0.5 + random.normal(0, 20, electrons.shape))
            frames.append(frame(values, time).rename(spectrum="draw"))
        merged = merge_exposures(frames, 20.0, 0.5)
        assert merged.signal.dims == ("draw", "wavelength")
        stated = float(merged.standard_uncertainty.mean())
        assert float(merged.signal.std()) == pytest.approx(stated, rel=0.03)
        assert float(merged.signal.mean()) == pytest.approx(rate, abs=5 * stated / np.sqrt(8000))


class TestAgreement:
    BRIGHT = np.array([1000.0, 2000.0, 3000.0, 4000.0])

    def two(self, factor, noise=0.0):
        wobble = 1 + noise * np.array([1, -1, 1, -1])
        return [frame(self.BRIGHT, 0.1), frame(self.BRIGHT * 10 * factor * wobble, 1.0)]

    @pytest.mark.parametrize(("factor", "said"), [(0.95, "5.1% less"), (1.05, "4.9% more")])
    def test_exposures_that_do_not_agree(self, factor, said):
        with pytest.raises(
            RangeError, match=f"of 1000 ms gives {said} signal than that of 100 ms .*beyond 1.0%"
        ):
            merge_exposures(self.two(factor))
        assert merge_exposures(self.two(factor), tolerance="6 %").signal.notnull().all()

    def test_the_order_of_frames_does_not_matter(self):
        with pytest.raises(RangeError, match=r"of 1000 ms gives 5\.1% less"):
            merge_exposures(self.two(0.95)[::-1])

    def test_how_well_they_agree_is_said(self):
        merged = merge_exposures(self.two(1.004))
        assert merged.signal.attrs["history"].endswith("; they agree within 0.4 %")
        assert (
            "merged exposures of 100 ms, 1000 ms: mean weighted by reciprocal"
            in merged.signal.attrs["history"]
        )

    def test_what_is_too_faint_to_tell_is_said(self):
        merged = merge_exposures(self.two(1.0, noise=0.5))
        assert merged.signal.attrs["history"].endswith("; 1 of 1 overlaps were too faint to tell")
        apart = [frame([100.0, NAN], 1.0), frame([NAN, 10.0], 0.1)]
        assert "1 of 1 overlaps were too faint" in merge_exposures(apart).signal.attrs["history"]

    def test_noise_is_no_disagreement(self):
        """A mean 1.2 % apart, over pixels that scatter by 1 %, is within three standard errors of 1 %."""
        assert "they agree within 1.2 %" in merge_exposures(self.two(1.015, 0.01)).signal.attrs["history"]

    def test_one_alone(self):
        merged = merge_exposures([frame(self.BRIGHT, 0.1, history="before")])
        assert merged.signal.attrs["history"].startswith("before\nmerged exposures of 100 ms")
        assert merged.signal.attrs["history"].endswith("; there was only one")


class TestFrames:
    def test_a_frame_without_draws_beside_one_with(self):
        draws = xr.concat([frame([100.0, 200.0], 0.1)] * 3, "draw")
        merged = merge_exposures([frame([1000.0, 2000.0], 1.0), draws])
        assert merged.signal.sizes == {"wavelength": 2, "draw": 3} or merged.signal.sizes == {
            "draw": 3,
            "wavelength": 2,
        }
        np.testing.assert_allclose(
            merged.signal.transpose("draw", "wavelength"), [[1000, 2000]] * 3, rtol=1e-12
        )

    def test_milliseconds_are_no_seconds(self):
        time = xr.DataArray(20.0, attrs={"units": "ms"})
        assert float(merge_exposures([frame([10.0], time)]).signal[0]) == pytest.approx(500)

    @pytest.mark.parametrize(
        ("frames", "error", "said"),
        [
            ([], RangeError, "there is no exposure to merge"),
            (
                [frame([1.0], 0.1), frame([1.0], 0.0)],
                RangeError,
                "frame 2 has no one coordinate integration_time",
            ),
            ([frame([1.0], 0.1).drop_vars("integration_time")], RangeError, "frame 1 has no one coordinate"),
            ([frame([1.0], 0.1), frame([1.0], 0.2, GRID + 1)], GridError, "exposures are not on one grid"),
            ([frame([1.0], 0.1, units="W m-2")], UnitsError, '"W m-2" cannot be converted to "1"'),
        ],
    )
    def test_frames_that_are_none(self, frames, error, said):
        with pytest.raises(error, match=said):
            merge_exposures(frames)

    @pytest.mark.parametrize("arguments", [(-1.0,), (0.0, 0.0), (0.0, 1.0, 0.0)])
    def test_noise_that_is_none(self, arguments):
        with pytest.raises(
            RangeError, match="a read noise of 0 or more and electrons per count and a tolerance"
        ):
            merge_exposures([frame([1.0], 0.1)], *arguments)
