"""Noise of a detector: what a simulated one was given is found again, hot pixels and flicker apart."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.corrections import NoiseModel, fit_noise, flicker, uncertainty_of_mean
from spectralbench.errors import GridError, RangeError

READ, ELECTRONS, OFFSET = 11.0, 1.6, 1200.0  # counts, electrons per count, counts
TRUTH = NoiseModel(READ**2 - OFFSET / ELECTRONS, 1 / ELECTRONS)  # as a line over the counts
PIXELS = 1000
GRID = np.linspace(300.0, 800.0, PIXELS)
DARK = np.full(PIXELS, OFFSET)
RAMP = np.linspace(OFFSET, 50_000.0, PIXELS)
LED = OFFSET + 50_000.0 * np.exp(-(((GRID - 405) / 8) ** 2))
STEP = np.where(np.arange(PIXELS) < 800, OFFSET, 30_000.0)  # nothing between dark and bright


def scans(level, count, seed, flickering=0.0):
    """Whole counts with read noise and shot noise, of a source that flickers."""
    random = np.random.default_rng(seed)
    light = (level - OFFSET) * (1 + flickering * random.standard_normal((count, 1)))
    noise = np.sqrt(READ**2 + np.maximum(light, 0) / ELECTRONS) * random.standard_normal(light.shape)
    return of(np.round(OFFSET + light + noise))


def of(values):
    return xr.DataArray(values, {"wavelength": GRID[: values.shape[-1]]}, ("spectrum", "wavelength"))


def dark():
    return xr.DataArray(DARK, {"wavelength": GRID}, "wavelength")


class TestFit:
    @pytest.mark.parametrize("count", [2, 3, 5, 12, 50])
    @pytest.mark.parametrize("level", [RAMP, STEP], ids=["ramp", "step"])
    def test_read_noise_and_gain_of_a_simulated_detector(self, count, level):
        """The variance of n scans scatters by √(2/(n - 1)); ten fits average what chance does.

        Flicker is taken off along the light, and with it one part of the noise in as many as pixels are
        bright. 2 % are allowed for weights that come from the fit itself.
        """
        fits = [
            fit_noise([scans(DARK, count, [seed, 1]), scans(level, count, [seed, 2], flickering=0.01)])
            for seed in range(10)
        ]
        bright = int((level > 0.5 * level.max()).sum())
        scatter = np.sqrt(2 / (count - 1) / bright / len(fits))
        assert np.mean([fit.slope for fit in fits]) == pytest.approx(
            TRUTH.slope, rel=4 * scatter + 1 / bright + 0.02
        )
        read = np.sqrt(np.mean([fit.variance(np.array([OFFSET])) for fit in fits]))
        assert read == pytest.approx(READ, rel=0.03)
        assert min(fit.slope for fit in fits) > 0.5 * TRUTH.slope
        assert fits[0].pixels == 2 * PIXELS

    def test_one_lit_frame_is_enough(self):
        fit = fit_noise([scans(DARK, 12, 3), scans(LED, 8, 4)])
        assert fit.slope == pytest.approx(TRUTH.slope, rel=0.2)

    def test_dark_frames_alone_give_the_read_noise(self):
        fit = fit_noise([scans(DARK, 12, 5)])
        assert fit.variance(DARK[:1]) == pytest.approx(READ**2, rel=0.05)

    def test_hot_pixels_bend_nothing(self):
        random = np.random.default_rng(6)
        frames = [scans(DARK, 8, 7), scans(RAMP, 8, 8)]
        hot = np.zeros((8, PIXELS))
        hot[:, ::40] = 3000 + 600 * random.standard_normal((8, PIXELS // 40))
        fit, without = fit_noise([frame + hot for frame in frames]), fit_noise(frames)
        assert fit.slope == pytest.approx(without.slope, rel=0.03)
        assert fit.variance(DARK[:1]) == pytest.approx(without.variance(DARK[:1]), rel=0.05)

    def test_saturated_pixels_are_left_out(self):
        lit = scans(RAMP, 8, 9)
        known = lit.where(lit < 40_000)
        fit = fit_noise([scans(DARK, 8, 10), known])
        assert fit.slope == pytest.approx(TRUTH.slope, rel=0.05)
        assert fit.pixels == 2 * PIXELS - int(known.isnull().any("spectrum").sum())

    def test_frames_of_few_scans_count_less(self):
        """Twelve scans and two: the line is that of the twelve, nearly."""
        twelve = [scans(DARK, 12, 11), scans(RAMP, 12, 12)]
        noisy = of(np.round(DARK + 30 * np.random.default_rng(13).standard_normal((2, PIXELS))))
        alone, both = fit_noise(twelve), fit_noise([*twelve, noisy])
        at = np.array([OFFSET])
        # means of variances: 11 degrees of freedom of 11², 1 of 30², where none is refused
        assert alone.variance(at) < both.variance(at) < (11 * READ**2 + 30**2) / 12 * 1.05

    def test_single_scans_say_nothing(self):
        assert fit_noise([scans(DARK, 1, 14), scans(RAMP, 1, 15).isel(spectrum=0)]) is None

    def test_nothing_valid_is_refused(self):
        with pytest.raises(RangeError, match="no pixel of the repeated scans is valid: take them with a sh"):
            fit_noise([scans(RAMP, 3, 16) * np.nan])

    def test_a_variance_is_never_below_that_of_whole_counts(self):
        """A step of one count, rectangular: 1/12 (JCGM 100:2008, F.2.2.1)."""
        assert NoiseModel(0.0, 0.5).variance(np.array([-5.0, 0.0, 1.0])) == pytest.approx(
            [1 / 12, 1 / 12, 0.5]
        )


class TestUncertaintyOfMean:
    def test_the_mean_of_many_is_known_better(self):
        level = np.array([OFFSET, 20_000.0, 50_000.0])
        for count in (1, 4, 16):
            found = uncertainty_of_mean(of(np.tile(level, (count, 1))), TRUTH)
            expected = np.sqrt((READ**2 + (level - OFFSET) / ELECTRONS) / count)
            assert found.values == pytest.approx(expected)

    def test_it_is_what_means_scatter_by(self):
        means = np.array([scans(RAMP, 4, [17, seed]).mean("spectrum").values for seed in range(300)])
        found = uncertainty_of_mean(scans(RAMP, 4, 18), TRUTH)
        ratio = means.std(axis=0, ddof=1) / found.values
        assert np.sqrt((ratio**2).mean()) == pytest.approx(1, rel=0.01)

    def test_a_single_scan_without_dimension_takes_the_model(self):
        one = scans(RAMP, 1, 19).isel(spectrum=0)
        assert uncertainty_of_mean(one, TRUTH).dims == ("wavelength",)
        assert uncertainty_of_mean(one, TRUTH).values == pytest.approx(np.sqrt(TRUTH.variance(one.values)))

    def test_a_hot_pixel_keeps_its_own_scatter(self):
        """A telegraph between two levels, 500 counts to either side: of eight scans, 500/√7."""
        counts = scans(RAMP, 8, 20)
        counts[:, 100] += 500 * np.array([1, -1, 1, -1, 1, -1, 1, -1])
        found = uncertainty_of_mean(counts, TRUTH).values
        assert found[100] == pytest.approx(500 / np.sqrt(7), rel=0.3)
        model = np.sqrt(TRUTH.variance(counts.mean("spectrum").values) / 8)
        others = np.delete(found / model, 100)
        assert others == pytest.approx(np.ones(others.size))

    def test_chance_is_not_taken_for_a_hot_pixel(self):
        """Once in a million pixels, by the distribution of variances: hardly ever in 20,000."""
        hot = 0
        for count in (2, 4, 8, 20):
            for seed in range(5):
                counts = scans(RAMP, count, [21, count, seed])
                model = np.sqrt(TRUTH.variance(counts.mean("spectrum").values) / count)
                hot += int((uncertainty_of_mean(counts, TRUTH).values > 1.001 * model).sum())
        assert hot <= 2

    def test_without_model_the_scatter_is_left(self):
        counts = scans(RAMP, 20, 22)
        found = uncertainty_of_mean(counts, None)
        assert np.sqrt((found**2 / uncertainty_of_mean(counts, TRUTH) ** 2).mean()) == pytest.approx(
            1, rel=0.03
        )
        assert (uncertainty_of_mean(counts.isel(spectrum=[0]), None) == 0).all()

    def test_what_is_saturated_is_not_known(self):
        counts = scans(RAMP, 4, 23)
        counts[0, 5] = np.nan
        found = uncertainty_of_mean(counts, TRUTH)
        assert np.flatnonzero(found.isnull()).tolist() == [5]

    def test_flicker_is_not_in_it(self):
        steady, unsteady = (uncertainty_of_mean(scans(RAMP, 8, 24, f), None) for f in (0.0, 0.05))
        assert float((unsteady**2).mean() / (steady**2).mean()) == pytest.approx(1, rel=0.15)


class TestFlicker:
    @pytest.mark.parametrize("size", [0.002, 0.01, 0.05])
    @pytest.mark.parametrize("level", [RAMP, LED], ids=["broad", "narrow"])
    def test_it_is_found(self, size, level):
        """Of 50 scans to 1/√98 = 10 %; the mean of ten sources, four times 3 %."""
        found = [flicker(scans(level, 50, [25, seed], size), dark(), TRUTH) for seed in range(10)]
        assert np.sqrt(np.mean(np.square(found))) == pytest.approx(size / np.sqrt(50), rel=0.13)

    def test_noise_is_not_mistaken_for_it(self):
        """Shot noise of an LED moves its sum by some 10⁻⁴; with the model, half of that is seldom left."""
        counts = [scans(LED, 8, [26, seed]) for seed in range(20)]
        with_model = np.array([flicker(one, dark(), TRUTH) for one in counts])
        without = np.array([flicker(one, dark()) for one in counts])
        assert (with_model <= without).all()
        assert np.mean(with_model**2) < 0.4 * np.mean(without**2)
        assert (with_model == 0).sum() >= 5

    def test_a_single_scan_and_no_light_say_nothing(self):
        assert flicker(scans(LED, 1, 27), dark(), TRUTH) == 0
        assert flicker(scans(LED, 1, 27).isel(spectrum=0), dark(), TRUTH) == 0
        assert flicker(of(np.tile(DARK, (3, 1))), dark(), TRUTH) == 0

    def test_saturated_pixels_are_left_out(self):
        counts = scans(RAMP, 50, 28, 0.01)
        whole = flicker(counts, dark(), TRUTH)
        assert flicker(counts.where(counts < 40_000), dark(), TRUTH) == pytest.approx(whole, rel=0.05)

    def test_grids_have_to_fit(self):
        with pytest.raises(GridError, match="not one grid"):
            flicker(scans(LED, 2, 29), dark().assign_coords(wavelength=GRID + 1e-3))
