"""The uncertainty budget of a bench: what may be said, what is drawn from it, and what it does.

Expected values are closed forms, with the numbers of the demo's manifest. A standard deviation of n draws
is itself uncertain by 1/√(2n) of itself (normal distribution); four times that are allowed.
"""

from __future__ import annotations

import json
import re
import typing
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.benches.budget import Budget, causes
from spectralbench.benches.contributions import BUDGETED
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.frames import Dark, Frames, Light, best_estimates, drawn, noise_model
from spectralbench.benches.manifest import parse_manifest
from spectralbench.benches.plus_minus import stated, unused
from spectralbench.benches.reducing import reduced_with
from spectralbench.benches.steps import Steps
from spectralbench.benches.uncertainty import INPUTS, OF_THEMSELVES, REACH, Uncertainty
from spectralbench.corrections import NoiseModel, dark_weights
from spectralbench.errors import BenchError, RangeError

MANY = 2000
SINGLE = 1e-6  # draws along the wavelength are in single precision
FOUR_SIGMA = 4 / np.sqrt(2 * MANY)  # of a standard deviation, relative
LAMP = 'name = "x"\ninput = "lamp irradiance"\n'
PART = 'name = "x"\ninput = "transmittance"\n'
LIGHT = 'name = "x"\ninput = "spectral irradiance"\n'
SCALE = 'name = "x"\ninput = "wavelength"\n'


def with_lines(text, *lines):
    """A manifest with these lines of a budget instead of its own."""
    blocks = [block for block in re.split(r"\n(?=\[)", text) if not block.startswith("[[uncertainty]]")]
    return "\n".join([*blocks, *(f"[[uncertainty]]\n{line}" for line in lines)]) + "\n"


@pytest.fixture(scope="module")
def original(lean):
    """What `budgeted` writes another budget into."""
    return lean


@pytest.fixture(scope="module")
def text(small):
    return (small / "bench.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def tree(lean):
    return sb.open_bench(lean)


@pytest.fixture(scope="module")
def whole_tree(small):
    return sb.open_bench(small)


@pytest.fixture(scope="module")
def best(tree):
    return sb.reduce_bench(tree)


@pytest.fixture(scope="module")
def result(whole_tree):
    return sb.compare(whole_tree, draws=1000, seed=5, contributions=True)


@pytest.fixture
def budgeted(bench):
    """Open a copy of the lean bench with another budget."""

    def open_(*lines):
        path = bench.folder / "bench.toml"
        path.write_text(with_lines(path.read_text(encoding="utf-8"), *lines), encoding="utf-8")
        return sb.open_bench(bench.folder)

    return open_


def reduced_by(tree, cause=None, draws=MANY, seed=1):
    """A bench reduced with the draws of one cause, or of all."""
    manifest = manifest_of(tree)
    budget = Budget(manifest, draws, seed, only=cause)
    return reduced_with(tree, manifest, best_estimates(tree, manifest), Steps(budget))


def relative(x):
    return float(x.std("draw") / x.mean("draw"))


def correlation(one, other):
    return float(np.corrcoef(one.values, other.values)[0, 1])


def band(tree, source):
    return tree["sources/band_irradiance"].sel(source=source)


def whole(tree, source):
    return float(tree["sources/irradiance"].sel(source=source))


class TestManifest:
    FAULTS: typing.ClassVar = {
        "part of what": (
            PART + 'size = "1 %"',
            ".size",
            '"1 %"',
            "relative = true or relative = false.*for 1 % of a tr",
        ),
        "no size": (LAMP + 'size = "large"', ".size", '"large"', 'a size such as "0.2 W m-2 nm-1"'),
        "no unit": (LAMP + 'size = "0.2"', ".size", '"0.2"', 'a size such as "0.2 W m-2 nm-1"'),
        "per cent as such": (
            LAMP + 'size = "1 %"\nrelative = false',
            ".size",
            '"1 %"',
            'a size such as "0.2 W m-2 nm-1"',
        ),
        "other unit": (SCALE + 'size = "0.1 mW"', ".size", '"0.1 mW"', 'a size such as "0.2 nm"'),
        "nothing": (LAMP + 'size = "0 %"', ".size", '"0 %"', 'a size above 0, such as "1.2 %"'),
        "too much": (
            LAMP + 'size = "26 %"',
            ".size",
            '"26 %"',
            "at most 25 %: a normal distribution reaches 4 sizes far, .* below 0; .* tolerance ±a it is a/√3",
        ),
        "too much of all": (
            LAMP + 'size = "60 %"\ndistribution = "rectangular"',
            ".size",
            '"60 %"',
            "at most 58 %: a rectangular distribution reaches 1.7 sizes far",
        ),
        "too many points": (
            PART + "size = 0.3\nrelative = false",
            ".size",
            '"0.3"',
            "at most 0.25 in points: a normal distribution",
        ),
        "a scale that is none": (
            SCALE + 'size = "50 nm"',
            ".size",
            '"50 nm"',
            "at most 5 nm: a scale that is further off is calibrated before it is used",
        ),
        "a share of a scale": (SCALE + 'size = "1 %"', ".size", '"1 %"', 'a size such as "0.2 nm"'),
        "a scale in shares": (
            SCALE + "size = 0.01\nrelative = true",
            ".relative",
            '"True"',
            "no relative = true: a scale is off by a length",
        ),
        "an uncertain uncertainty": (
            LAMP + 'size = "1.2 % ± 0.1 %"',
            ".size",
            '"1.2 % ± 0.1 %"',
            'a size such as "1.2 %": an uncertainty has none of its own',
        ),
        "an uncertain length": (
            LAMP + 'size = "1 %"\ncorrelation = "20 nm ± 2 nm"',
            ".correlation",
            '"20 nm ± 2 nm"',
            "a length above 0 nm, without a ±",
        ),
        "negative": (SCALE + 'size = "-0.1 nm"', ".size", '"-0.1 nm"', 'a size above 0, such as "0.2 nm"'),
        "no distribution": (
            LAMP + 'size = "1 %"\ndistribution = "bell"',
            ".distribution",
            '"bell"',
            "'normal'",
        ),
        "no input": (
            'name = "x"\ninput = "weather"\nsize = "1 %"',
            ".input",
            '"weather"',
            "'lamp irradiance'",
        ),
        "no correlation": (
            LAMP + 'size = "1 %"\ncorrelation = "half"',
            ".correlation",
            '"half"',
            '"none", "full" or a length such as "20 nm"',
        ),
        "no length": (LAMP + 'size = "1 %"\ncorrelation = "0 nm"', ".correlation", '"0 nm"', "above 0 nm"),
        "length of an hour": (LAMP + 'size = "1 %"\ncorrelation = "1 h"', ".correlation", '"1 h"', "20 nm"),
        "scale in parts": (
            SCALE + 'size = "0.1 nm"\ncorrelation = "20 nm"',
            ".correlation",
            '"20 nm"',
            '"full": the whole scale is off by one amount',
        ),
        "of nobody": (
            LIGHT + 'size = "1 %"\nof = ["LED 405", "LED 406"]',
            ".of",
            '"LED 406"',
            'names of what the spectral irradiance belongs to: "arc", "arc, filtered", "LED 365"',
        ),
        "of a source, not a part": (
            PART + 'size = 0.1\nrelative = false\nof = ["LED 405"]',
            ".of",
            '"LED 405"',
            'names of what the transmittance belongs to: "cover"',
        ),
        "of the only one": (LAMP + 'size = "1 %"\nof = ["arc"]', ".of", '"arc"', "no names here"),
        "of none": (LIGHT + 'size = "1 %"\nof = []', ".of", "", "1 or more of them"),
        "a truth": (LAMP + "size = true", ".size", '"True"', 'a text such as "1.2 %", or a number'),
        "a list": (LAMP + 'size = ["1 %"]', ".size", "1 %", 'a text such as "1.2 %", or a number'),
        "no unit at all": (SCALE + "size = 0.1", ".size", '"0.1"', 'a size with its unit, such as "0.2 nm"'),
        "no file": (
            SCALE + 'size = "from file"',
            ".size",
            "from file",
            "only the lamp's certificate may hold",
        ),
        "no file of a part": (
            PART + 'size = "from file"',
            ".size",
            "from file",
            "only the lamp's certificate",
        ),
        "a share from the file": (
            LAMP + 'size = "from file"\nrelative = true',
            ".relative",
            '"True"',
            "no relative = true beside a size from the file: its column has the unit of the values",
        ),
        "its own name": (LAMP.replace('"x"', '"flicker"') + 'size = "1 %"', ".name", '"flicker"', "itself"),
        "unknown key": (LAMP + 'size = "1 %"\ncoverage = 2', ".coverage", "an unknown key", "only the keys"),
    }  # the line; its key; what was found; what was expected

    @pytest.mark.parametrize("case", FAULTS)
    def test_a_line_that_cannot_be_drawn_is_refused(self, text, case):
        line, key, found, expected = self.FAULTS[case]
        with pytest.raises(BenchError) as caught:
            parse_manifest(with_lines(text, line), Path("bench.toml"))
        (fault,) = caught.value.faults
        assert fault.key.startswith(f"uncertainty.1{key}")
        assert re.search(found, fault.found)
        assert re.search(expected, fault.expected)
        if key:  # it stands on a line of its own
            lines = with_lines(text, line).splitlines()
            assert lines[fault.line - 1].startswith(key.removeprefix(".") + " = ")

    def test_the_only_one_is_named(self, text):
        with pytest.raises(BenchError, match=r"There is but one lamp irradiance\."):
            parse_manifest(with_lines(text, LAMP + 'size = "1 %"\nof = ["arc"]'), Path("bench.toml"))

    def test_a_name_stands_once(self, text):
        with pytest.raises(BenchError) as caught:
            parse_manifest(with_lines(text, LAMP + 'size = "1 %"', SCALE + 'size = "1 nm"'), Path("x"))
        (fault,) = caught.value.faults
        assert (fault.key, fault.found) == ("uncertainty.2.name", 'the name "x" again')

    @pytest.mark.parametrize("key", ["read_noise", "electrons_per_count"])
    def test_a_noise_is_stated_whole(self, text, key):
        changed = text.replace("pixels = 128", f"pixels = 128\n{key} = 10")
        with pytest.raises(BenchError, match="read_noise and electrons_per_count together, or neither"):
            parse_manifest(changed, Path("bench.toml"))

    @pytest.mark.parametrize(
        ("line", "size", "is_relative"),
        [
            (LAMP + 'size = "1.2 %"', 0.012, True),
            (LAMP + 'size = "0.5 mW/m^2/nm"', 0.5e-3, False),
            (LAMP + "size = 0.012\nrelative = true", 0.012, True),
            (PART + 'size = "0.4 %"\nrelative = false', 0.004, False),
            (PART + "size = 0.004\nrelative = true", 0.004, True),
            (SCALE + 'size = "1 Å"', 0.1, False),
            (SCALE + 'size = "0.1 nm"\nrelative = false', 0.1, False),
            (LIGHT + 'size = "25 %"', 0.25, True),
        ],
    )
    def test_what_a_size_means(self, text, line, size, is_relative):
        (found,) = parse_manifest(with_lines(text, line), Path("bench.toml")).uncertainty
        assert (found.measured(), found.is_relative) == (pytest.approx(size), is_relative)

    @pytest.mark.parametrize("distribution", REACH)
    def test_no_draw_of_the_widest_size_lies_below_zero(self, distribution):
        """Closed form: a half-width is √3, √6 or √2 standard deviations; a normal one has Φ(-4) beyond."""
        drawn = sb.draw(1.0, 1 / REACH[distribution], distribution, draws=20_000, seed=1)
        below = float((drawn < -1e-12).mean())
        assert below <= (2e-4 if distribution == "normal" else 0)
        wider = sb.draw(1.0, 1.1 / REACH[distribution], distribution, draws=20_000, seed=1)
        assert (wider < 0).any()

    def test_inputs_are_those_of_the_schema(self):
        hint = typing.get_type_hints(Uncertainty, include_extras=False)["input"]
        assert typing.get_args(hint) == tuple(INPUTS)


class TestSeeds:
    def test_the_same_seed_gives_the_same_bits(self, tree, datasets):
        one, again, other = (sb.reduce_bench(tree, draws=30, seed=seed) for seed in (7, 7, 8))
        for (path, data), (_, same) in zip(datasets(one), datasets(again), strict=True):
            xr.testing.assert_identical(data, same)
            if path in ("/sources", "/parts", "/adhesive", "/instrument"):
                assert not data.equals(other[path].to_dataset())

    def test_a_seed_that_was_made_up_is_written_down(self, tree):
        found = sb.reduce_bench(tree, draws=20)
        settings = json.loads(found.attrs["provenance"])["settings"]
        assert settings["draws"] == 20
        again = sb.reduce_bench(tree, draws=20, seed=settings["seed"])
        xr.testing.assert_identical(again["sources"].to_dataset(), found["sources"].to_dataset())

    def test_one_cause_more_changes_no_other(self, tree, bench):
        more = 'name = "stain"\ninput = "transmittance"\nsize = "2 %"\nrelative = true\n'
        path = bench.folder / "bench.toml"
        content = path.read_text(encoding="utf-8")
        path.write_text(content.replace("[[uncertainty]]", f"[[uncertainty]]\n{more}\n[[uncertainty]]", 1))
        one, both = (sb.reduce_bench(x, draws=30, seed=7) for x in (tree, sb.open_bench(bench.folder)))
        for name in ("sources/spectral_irradiance", "adhesive/absorbance", "instrument/responsivity"):
            np.testing.assert_array_equal(both[name].values, one[name].values)
        assert not both["parts/transmittance"].equals(one["parts/transmittance"])

    def test_one_source_less_changes_no_other(self, tree, bench):
        path = bench.folder / "bench.toml"
        blocks = re.split(r"\n(?=\[)", path.read_text(encoding="utf-8"))
        path.write_text("\n".join(block for block in blocks if 'name = "LED 365"' not in block))
        fewer, of_all = (sb.reduce_bench(x, draws=30, seed=7) for x in (bench.folder, tree))
        for source in fewer["sources"].source.values:  # the noise model has one frame less to be fitted to
            xr.testing.assert_allclose(band(fewer, source), band(of_all, source), rtol=1e-4)

    def test_without_draws_nothing_changes(self, tree, budgeted):
        with_, without = (sb.compare(each) for each in (tree, budgeted()))
        xr.testing.assert_identical(with_.drop_attrs(), without.drop_attrs())
        assert "draw" not in with_.dims
        assert not {"share_met", "share_ahead", "variance_share"} & set(with_)
        zero = sb.reduce_bench(tree, draws=0, seed=3)
        assert json.loads(zero.attrs["provenance"])["settings"] == {"draws": 0, "seed": None}
        xr.testing.assert_identical(zero, sb.reduce_bench(tree))

    def test_draws_lie_around_the_best_estimate(self, result, best):
        """Within four standard uncertainties of a mean, and what is of second order."""
        for source in ("LED 365", "LED 385", "LED 405"):
            found, expected = result["irradiance_at_part"].sel(source=source), whole(best, source)
            u = float(found.std("draw")) / expected
            assert float(found.mean("draw")) == pytest.approx(expected, rel=4 * u / np.sqrt(1000) + u**2)


class TestShared:
    def test_one_error_for_all_sources_cancels_in_a_ratio(self, budgeted):
        tree = reduced_by(budgeted(LIGHT + 'size = "2 %"\nshared = true'), "x")
        one, other = (band(tree, source) for source in ("LED 385", "LED 405"))
        assert relative(one) == pytest.approx(0.02, rel=FOUR_SIGMA)
        assert correlation(one, other) == pytest.approx(1, abs=1e-9)
        assert relative(one / other) < SINGLE

    def test_an_error_of_each_source_does_not(self, budgeted):
        tree = reduced_by(budgeted(LIGHT + 'size = "2 %"'), "x")
        one, other = (band(tree, source) for source in ("LED 385", "LED 405"))
        assert abs(correlation(one, other)) < 4 / np.sqrt(MANY)
        assert relative(one / other) == pytest.approx(0.02 * np.sqrt(2), rel=FOUR_SIGMA)

    def test_of_names_those_it_falls_on(self, budgeted):
        tree = reduced_by(budgeted(LIGHT + 'size = "2 %"\nof = ["LED 405"]'), "x")
        assert relative(band(tree, "LED 405")) == pytest.approx(0.02, rel=FOUR_SIGMA)
        assert relative(band(tree, "LED 385")) < 1e-12

    def test_sources_behind_one_attenuator_share_its_error(self, bench, budgeted):
        raw = bench.folder / "raw"
        (raw / "other.csv").write_bytes((raw / "attenuator.csv").read_bytes())
        bench("bench.toml", r'(led_385.csv"\nattenuator = )"raw/attenuator.csv"', r'\1"raw/other.csv"')
        line = 'name = "x"\ninput = "attenuator"\nsize = "2 %"\nrelative = true\n'
        tree = reduced_by(budgeted(line), "x")
        same, own = (correlation(band(tree, "LED 405"), band(tree, s)) for s in ("LED 365", "LED 385"))
        assert same == pytest.approx(1, abs=1e-3)  # 1/τ bends
        assert abs(own) < 4 / np.sqrt(MANY)

    def test_a_line_for_one_of_them_takes_nothing_from_what_they_share(self, budgeted):
        line = 'name = "{}"\ninput = "attenuator"\nsize = "2 %"\nrelative = true\n'
        tree = reduced_by(budgeted(line.format("x"), line.format("y") + 'of = ["LED 405"]'), "x")
        assert correlation(band(tree, "LED 405"), band(tree, "LED 385")) == pytest.approx(1, abs=1e-3)

    def test_the_standard_lamp_is_common_to_all(self, tree):
        """1.2 % of its calibration and 2 u/d of its two distances: in every source, in no ratio."""
        expected = {
            "lamp calibration": 0.012,
            "lamp distance": 2 * np.hypot(0.3 / 500, 0.5 / 520),
        }
        for cause, size in expected.items():
            found = reduced_by(tree, cause)
            for source in ("LED 365", "LED 385", "LED 405"):
                assert relative(band(found, source)) == pytest.approx(size, rel=FOUR_SIGMA)
            assert relative(band(found, "LED 365") / band(found, "LED 405")) < 1e-6


class TestSizes:
    def test_a_distance_counts_twice(self, whole_tree):
        """E = E₀ (1 + e)² without a beam, e = 0.3/18 and normal: mean 1 + e², variance 4 e² + 2 e⁴."""
        found, best = (reduced_by(whole_tree, "distance", draws) for draws in (MANY, 0))
        found, e = band(found, "arc, filtered") / band(best, "arc, filtered"), 0.3 / 18
        assert float(found.std("draw")) == pytest.approx(np.sqrt(4 * e**2 + 2 * e**4), rel=FOUR_SIGMA)
        assert float(found.mean("draw")) == pytest.approx(1 + e**2, abs=4 * 2 * e / np.sqrt(MANY))

    def test_a_distance_counts_as_the_beam_falls_that_was_measured(self, tree, best):
        """The demo's beams are those of a disc, R = 11 mm: d ln E/d ln d = -2 d²/(R² + d²) (closed form)."""
        found, e = band(reduced_by(tree, "distance"), "LED 405") / band(best, "LED 405"), 0.3 / 12
        power = 2 * 12**2 / (11**2 + 12**2)
        assert float(found.std("draw")) == pytest.approx(power * e, rel=FOUR_SIGMA)
        assert float(found.mean("draw")) == pytest.approx(1, abs=4 * power * e / np.sqrt(MANY))

    def test_bond_line_and_concentration_are_shares_of_the_absorbance(self, tree):
        film = reduced_by(tree, "bond line")["adhesive/absorbance"].sel(wavelength=365, method="nearest")
        assert relative(film.isel(initiator=0)) == pytest.approx(0.02 / 0.15, rel=FOUR_SIGMA)
        assert correlation(*film.transpose("initiator", "draw")) == pytest.approx(1)
        film = reduced_by(tree, "concentration")["adhesive/absorbance"].sel(wavelength=365, method="nearest")
        assert relative(film.isel(initiator=0)) == pytest.approx(0.05, rel=FOUR_SIGMA)
        assert abs(correlation(*film.transpose("initiator", "draw"))) < 4 / np.sqrt(MANY)

    def test_a_log_says_how_well_its_rate_is_known(self, tree):
        """u of a slope is s/√Σ(t - t̄)², times √(ν/(ν - 2)) of a t-distribution of ν = 8 - 2."""
        draws = 10 * MANY
        fit = reduced_by(tree, "end of life", draws)["ageing/arc"].to_dataset()
        scatter = np.sqrt((np.log1p(fit.residual) ** 2).sum() / 6)
        expected = scatter / np.sqrt(((fit.hours - fit.hours.mean()) ** 2).sum()) * np.sqrt(6 / 4)
        # the fourth moment of this t-distribution is 6, so that u scatters by √(5/4n)
        tolerance = 4 * np.sqrt(5 / (4 * draws))
        assert float(fit.rate.std("draw")) == pytest.approx(float(expected), rel=tolerance)

    def test_points_of_transmittance_are_points(self, tree):
        found = reduced_by(tree, "position of the part")["parts/transmittance"].isel(part=0)
        spread = found.std("draw")
        assert spread.values == pytest.approx(np.full(spread.size, 0.004), rel=FOUR_SIGMA)

    @pytest.mark.parametrize("distribution", ["rectangular", "triangular", "arcsine"])
    def test_a_distribution_ends_where_it_does(self, budgeted, distribution):
        line = f'{LIGHT}size = "2 %"\nshared = true\ndistribution = "{distribution}"'
        found = band(reduced_by(budgeted(line), "x"), "LED 405")
        reach = {"rectangular": np.sqrt(3), "triangular": np.sqrt(6), "arcsine": np.sqrt(2)}[distribution]
        assert relative(found) == pytest.approx(0.02, rel=FOUR_SIGMA)
        assert float(abs(found / found.mean("draw") - 1).max()) <= 0.02 * reach * 1.01

    @pytest.mark.parametrize(("words", "length"), [("none", 0.0), ("20 nm", 20.0), ("full", np.inf)])
    def test_a_correlation_in_a_band(self, budgeted, best, words, length):
        """u²(I) = Σi Σj wi wj u(Ei) u(Ej) exp(-|Δλ|/L), JCGM 100:2008, eq. 13: between √Σ and Σ."""
        tree = budgeted(f'{LIGHT}size = "5 %"\ncorrelation = "{words}"')
        light = best["sources/spectral_irradiance"].sel(source="LED 385")
        grid, light = light.wavelength.values, light.values
        steps = np.diff(grid)
        weights = (np.append(0, steps) + np.append(steps, 0)) / 2
        parts = 0.05 * weights * light
        apart = np.abs(grid[:, None] - grid)
        with np.errstate(divide="ignore", invalid="ignore"):
            together = np.where(apart == 0, 1.0, np.exp(-apart / length))
        expected = np.sqrt(parts @ together @ parts) / (weights @ light)
        drawn = reduced_by(tree, "x")["sources/spectral_irradiance"].sel(source="LED 385")
        found = sb.band_irradiance(drawn, grid[0], grid[-1])
        assert relative(found) == pytest.approx(expected, rel=FOUR_SIGMA)

    def test_contributions_add_in_quadrature(self, best, result):
        """The law of propagation, from the numbers of the manifest and the best estimates alone.

        Relative contributions in quadrature: u(d)/d of the source times the power at which its beam falls,
        that of a disc of 11 mm; 2 u(d)/d of the lamp, the lamp, stray light, 0.004 of transmittance on all
        the light, two double sums over a correlation length, and a lamp that stood anywhere between two
        references, of which the second is 3.4 % darker (rectangular: JCGM 100:2008, 4.3.7). The wavelength
        scale and the noise are left out: they are below 1 % of the variance.
        """
        grid = best["sources"].wavelength.values
        inside = (grid >= 320) & (grid <= 430)
        steps = np.diff(grid[inside])
        weights = (np.append(0, steps) + np.append(steps, 0)) / 2
        passed = best["parts/transmittance"].values[0, inside]
        apart = np.abs(grid[inside][:, None] - grid[inside])
        for source in ("LED 365", "LED 385", "LED 405"):
            light = best["sources/spectral_irradiance"].sel(source=source).values[inside]
            arrives = weights @ (light * passed)
            shares = weights * light * passed / arrives

            def over(length, shares=shares):
                return np.sqrt(shares @ np.exp(-apart / length) @ shares)

            contributions = [
                2 * 12**2 / (11**2 + 12**2) * 0.3 / 12,
                2 * np.hypot(0.3 / 500, 0.5 / 520),
                0.012,
                0.008,
                0.004 * (weights @ light) / arrives,
                0.010 * over(50.0),
                0.005 * over(20.0),
                0.034 / (1 - 0.034 / 2) / np.sqrt(12),
            ]
            expected = np.sqrt(np.sum(np.square(contributions)))
            found = result["band_irradiance"].sel(source=source)
            three_errors = 3 / np.sqrt(2 * found.sizes["draw"])  # of a standard deviation (JCGM 100, E.4.3)
            assert relative(found) == pytest.approx(expected, rel=three_errors)


class TestWavelength:
    @pytest.mark.parametrize("size", [0.1, 2.0])
    def test_a_frame_lies_where_its_true_wavelengths_are(self, budgeted, size):
        """Straight lines between pixels, also where the scale is off by more than one of them."""
        manifest = manifest_of(budgeted(f'{SCALE}size = "{size} nm"\ndistribution = "rectangular"'))
        grid = np.linspace(300.0, 400.0, 101) + 0.2 * np.sin(np.arange(101))
        ramp = xr.DataArray(50.0 + 3.0 * grid, {"wavelength": grid}, "wavelength")
        peaked = ramp.copy(data=np.exp(-(((grid - 350) / 6) ** 2)))
        budget = Budget(manifest, MANY, 1)
        moved = budget.shifted(ramp)
        offsets = (ramp - moved).isel(wavelength=50) / 3.0
        assert float(offsets.std()) == pytest.approx(size, rel=FOUR_SIGMA)
        assert float(abs(offsets).max()) <= size * np.sqrt(3)
        inside = moved.isel(wavelength=slice(5, -5))
        expected = ramp - 3.0 * offsets
        expected = expected.isel(wavelength=slice(5, -5)).transpose(*inside.dims)
        np.testing.assert_allclose(inside, expected, rtol=SINGLE)
        found = budget.shifted(peaked)  # off by the same amounts: it is one scale
        for i in (0, 7, MANY - 1):
            direct = np.interp(grid - float(offsets[i]), grid, peaked.values)
            np.testing.assert_allclose(found[i], direct, atol=10 * SINGLE)  # as the offset has 5 digits

    def test_an_unknown_pixel_stays_so(self, tree):
        frame = xr.DataArray([1.0, 2, np.nan, 4, 5, 6], {"wavelength": np.arange(400.0, 406)}, "wavelength")
        moved = Budget(manifest_of(tree), 50, 1).shifted(frame)
        assert moved.isnull().all("draw").values.tolist() == [False, True, True, True, False, False]


class TestFromFile:
    LINE = 'name = "certificate"\ninput = "lamp irradiance"\nsize = "from file"\ncorrelation = "full"\n'

    def test_what_stands_beside_the_values_is_drawn(self, bench, budgeted):
        path = bench.folder / "raw" / "lamp_certificate.csv"
        lines = path.read_text(encoding="utf-8").splitlines()
        first = next(i for i, line in enumerate(lines) if line[0].isdigit())
        heading = "wavelength [nm],spectral irradiance [W m-2 nm-1],u(spectral irradiance) [W m-2 nm-1]"
        rows = [line.split(",") for line in lines[first:]]
        rows = [f"{w},{e},{0.03 * float(e):.9g}" for w, e in rows]
        path.write_text("\n".join([*lines[: first - 1], heading, *rows]) + "\n", encoding="utf-8")
        found = reduced_by(budgeted(self.LINE), "certificate")
        assert relative(band(found, "LED 405")) == pytest.approx(0.03, rel=FOUR_SIGMA)
        assert relative(band(found, "LED 365") / band(found, "LED 405")) < 1e-6

    def test_a_file_without_such_a_column(self, budgeted):
        tree = budgeted(self.LINE)
        assert sb.reduce_bench(tree) is not tree  # without draws nobody asks
        with pytest.raises(BenchError) as caught:
            sb.reduce_bench(tree, draws=20, seed=1)
        (fault,) = caught.value.faults
        assert fault.key == "uncertainty.1.size"
        assert fault.found == (
            '"from file" in the line "certificate", and the file has no column of standard uncertainties'
        )
        assert fault.expected == 'a size, or a column "u(…)" in the file'

    def test_a_lamp_that_goes_out_in_some_draws(self, budgeted):
        wide = LAMP.replace("x", "scale") + 'size = "3 mW m-2 nm-1"'
        tree = budgeted(LAMP + 'size = "1 %"', wide)
        with pytest.raises(BenchError) as caught:
            sb.reduce_bench(tree, draws=100, seed=1)
        (fault,) = caught.value.faults
        assert fault.key == "uncertainty.2.size"
        assert re.fullmatch(
            r'\d+ of 100 draws of the lamp irradiance at 0 or below, by the line "scale" of the budget',
            fault.found,
        )
        assert fault.expected == "a size that leaves light in every draw, as a relative one does"


def synthetic(nodes, times, noise=3.0, pixels=200):
    """Frames of bright, steady light, all with the same noise."""
    grid = {"wavelength": np.linspace(300.0, 500.0, pixels)}

    def frame(level, time):
        return xr.DataArray(np.full(pixels, level), {**grid, "integration_time": time}, "wavelength")

    lights = {
        node: Light(frame(1000.0, time), frame(noise, time), frame(noise, time), 0.0)
        for node, time in nodes.items()
    }
    darks = {f"/dark/{i}": Dark(frame(100.0, time), frame(2.0, time)) for i, time in enumerate(times, 1)}
    return Frames(lights, darks, None)


def covariance(drawn, one, other):
    """Mean over the pixels of the covariance over the draws."""
    errors = [(drawn[node] - drawn[node].mean("draw")).values for node in (one, other)]
    return float((errors[0] * errors[1]).mean() * MANY / (MANY - 1))


class TestNoise:
    def test_frames_of_one_integration_time_share_the_errors_of_their_dark(self, tree):
        """A frame has its own 3² and the 2² of its dark; two of one time have 2² in common."""
        frames = synthetic({"a": 0.01, "b": 0.01, "c": 0.02}, [0.01, 0.02])
        found = drawn(frames, Budget(manifest_of(tree), MANY, 1, only="noise"))
        tolerance = 4 * 13 / np.sqrt(MANY * 200)
        assert covariance(found, "a", "a") == pytest.approx(13, abs=tolerance * np.sqrt(2))
        assert covariance(found, "a", "b") == pytest.approx(4, abs=tolerance)
        assert covariance(found, "a", "c") == pytest.approx(0, abs=tolerance)

    def test_a_modelled_dark_brings_the_errors_of_all_that_it_is_made_from(self, tree):
        times = [0.01, 0.02, 0.05]
        frames = synthetic({"a": 0.03, "b": 0.01}, times)
        found = drawn(frames, Budget(manifest_of(tree), MANY, 1, only="noise"))
        weights = dark_weights(np.array(times), 0.03)
        tolerance = 4 * 13 / np.sqrt(MANY * 200)
        # the variance of a straight line at 0.03, by the closed form of least squares
        expected = 4 * (1 / 3 + (0.03 - np.mean(times)) ** 2 / (3 * np.var(times)))
        assert covariance(found, "a", "a") == pytest.approx(9 + expected, abs=tolerance * np.sqrt(2))
        assert covariance(found, "a", "b") == pytest.approx(4 * weights[0], abs=tolerance)

    def test_flicker_moves_all_pixels_together(self, tree):
        frames = synthetic({"a": 0.01}, [0.01])
        frames.lights["a"] = frames.lights["a"]._replace(flicker=0.02)
        found = drawn(frames, Budget(manifest_of(tree), MANY, 1, only="flicker"))["a"]
        assert relative(found.isel(wavelength=0)) == pytest.approx(0.02, rel=FOUR_SIGMA)
        assert (found == found.isel(wavelength=0)).all()

    def test_a_noise_that_the_maker_states_is_taken(self, bench):
        bench.manifest("pixels = 128", "pixels = 128\nread_noise = 7.0\nelectrons_per_count = 4.0")
        tree = sb.open_bench(bench.folder)
        dark = xr.DataArray([[500.0] * 3], dims=("spectrum", "wavelength"))
        lit = xr.DataArray([[500.0, 900.0, 2500.0]], dims=("spectrum", "wavelength"))
        model = noise_model(manifest_of(tree), [lit, dark])
        assert isinstance(model, NoiseModel)
        # read noise² alone at the offset; above it an electron more for every quarter of a count
        assert model.variance(np.array([500.0, 900.0, 2500.0])) == pytest.approx([49, 149, 549])
        frames = best_estimates(tree, manifest_of(tree))
        spread = frames.darks["/dark/1"].noise
        assert float(spread.median()) == pytest.approx(7 / np.sqrt(12), rel=0.05)  # of 12 scans

    @pytest.mark.parametrize("stated", [50, 1000])
    def test_a_noise_that_the_scans_of_the_dark_contradict(self, bench, stated):
        """The virtual detector reads with 11 counts."""
        line = f"read_noise = {stated}"
        bench.manifest("pixels = 128", f"pixels = 128\n{line}\nelectrons_per_count = 1.6")
        fault = bench.fault(sb.reduce_bench)
        assert (fault.key, fault.found) == ("instrument.read_noise", f'"{stated}"')
        assert re.match(r"what the scans of the dark show, 1[012] counts, or nothing", fault.expected)
        assert fault.advice == "It is in counts, of one scan."
        assert fault.line == bench.line_of(line)

    def test_a_noise_of_thousands_of_counts(self, bench):
        bench.manifest("pixels = 128", "pixels = 128\nread_noise = 5000\nelectrons_per_count = 1.6")
        fault = bench.fault()
        assert (fault.key, fault.found) == ("instrument.read_noise", '"5000"')
        assert fault.expected == "at most 1311 counts, 2 % of the full scale"

    def test_a_saturated_pixel_stays_unknown_in_every_draw(self, tree, best, result):
        found = sb.reduce_bench(tree, draws=25, seed=1)
        light, known = found["sources/spectral_irradiance"], best["sources/spectral_irradiance"]
        lost = known.isnull()
        assert lost.sel(source="arc").any()
        assert light.isnull().all("draw").where(lost, True).all()
        assert light.sel(source=["LED 365", "LED 385", "LED 405"]).notnull().all()
        judged = result.sel(source="arc", criterion="upper limit")
        assert judged.verdict == "not known"
        assert np.isnan(judged.share_met)
        assert "not valid" in judged.reason.item()
        shares = result.variance_share.sel(source="arc", figure="irradiance_at_part")
        assert shares.isnull().all()


class TestShares:
    def test_they_add_up(self, result):
        total = result.variance_share.sum("cause")
        known = result.variance_share.notnull().any("cause")
        assert total.values[known.values] == pytest.approx(1)
        assert result.variance_share.figure.values.tolist() == list(BUDGETED)
        assert (result.variance_share.fillna(0) >= 0).all()

    def test_what_dominates_is_named(self, result):
        """The distance of the demo, 2 × 2.5 %, against 1.2 % and less; of LED 365 the part's position."""
        share = result.variance_share
        for source in ("LED 385", "LED 405"):
            of_band = share.sel(figure="band_irradiance", source=source)
            assert of_band.cause.values[int(of_band.argmax("cause"))] == "distance"
        stopped = share.sel(figure="band_irradiance", source="LED 365")
        assert stopped.cause.values[int(stopped.argmax("cause"))] == "position of the part"
        assert not share.sel(figure="band_irradiance", cause="bond line").fillna(0).any()

    def test_each_cause_says_where_it_stands(self, result, whole_tree):
        said = causes(manifest_of(whole_tree))
        assert set(result.cause.values) <= set(said)
        missing = {"working distance", "reciprocity", "thickness", "working thickness", "layer"}
        missing.add("below the floor")
        assert set(OF_THEMSELVES) - missing <= set(result.cause.values)
        origin = result.variance_share.origin.sel(cause="attenuator")
        assert origin == "1 % of the attenuator, normal, correlated over 50 nm"
        assert said["stray light and linearity"] == (
            "0.8 % of the spectral irradiance, rectangular, one error along the wavelength, shared"
        )
        assert said["position of the part"] == (
            "0.004 in points of the transmittance, normal, one error along the wavelength"
        )

    @pytest.mark.parametrize(
        ("line", "words"),
        [
            (
                PART + "size = 0.004\nrelative = true",
                "0.4 % of the transmittance, normal, one error along the",
            ),
            (PART + 'size = "0.4 %"\nrelative = false', "0.004 in points of the transmittance, normal"),
            (SCALE + 'size = "1 Å"', "1 Å on the wavelength, normal$"),
            (
                LIGHT + 'size = "1 %"\nof = ["arc"]\ncorrelation = "none"',
                "irradiance of arc, normal, no correl",
            ),
            (LAMP + 'size = "from file"', "the column of the file on the lamp irradiance, normal, one error"),
        ],
    )
    def test_a_line_in_words(self, text, line, words):
        said = causes(parse_manifest(with_lines(text, line), Path("bench.toml")))["x"]
        assert re.search(words, said)

    def test_a_cause_alone_is_what_its_line_says(self, budgeted):
        result = sb.compare(
            budgeted(LIGHT + 'size = "20 %"\nshared = true'), draws=200, seed=1, contributions=True
        )
        share = result.variance_share.sel(figure="band_irradiance", source="LED 405", cause="x")
        e = 1.09 * 0.3 / 12
        # 20 %, against 2.7 % of the distance, 0.23 % of the lamp's and little noise
        expected = 0.04 / (0.04 + e**2 + 0.0023**2)
        assert float(share) == pytest.approx(expected, abs=0.02)

    def test_gaps_of_the_budget_are_named(self, result, budgeted):
        said = json.loads(result.attrs["not_measured"])
        assert not [item for item in said if "no uncertainty is stated" in item]
        bare = sb.compare(budgeted(LAMP + 'size = "1 %"'), draws=20, seed=1)
        (gap,) = [item for item in json.loads(bare.attrs["not_measured"]) if "no uncertainty" in item]
        assert "attenuator, spectral irradiance, transmittance, absorption coefficient, wavelength" in gap
        assert "lamp irradiance" not in gap
        assert "too narrow" in gap

    def test_items_without_a_line_are_gaps(self, text):
        lines = (
            'name = "a"\ninput = "absorption coefficient"\nsize = "5 %"\nof = ["initiator B"]',
            'name = "b"\ninput = "attenuator"\nsize = "1 %"\nrelative = true\nof = ["LED 365", "LED 385"]',
            'name = "c"\ninput = "spectral irradiance"\nsize = "1 %"\nof = ["arc", "LED 365", "LED 385"]',
            'name = "d"\ninput = "spectral irradiance"\nsize = "1 %"\nof = ["LED 405"]',
            LAMP + 'size = "1 %"',
        )
        gaps = Budget(parse_manifest(with_lines(text, *lines), Path("bench.toml"))).gaps
        attenuated = "attenuator of arc and arc, filtered and LED 405"
        assert gaps[0].startswith("attenuator of ")
        assert gaps[0] in (attenuated, "attenuator of LED 405")
        assert gaps[1:] == [
            *("spectral irradiance of arc, filtered", "transmittance"),
            *("absorption coefficient of initiator A", "absorbance", "wavelength"),
        ]

    def test_what_a_bench_does_not_have_is_no_gap(self, tree):
        manifest = manifest_of(tree)
        bare = [source.model_copy(update={"attenuator": None}) for source in manifest.source]
        without = manifest.model_copy(update={"source": bare, "uncertainty": []})
        assert "attenuator" not in Budget(without).gaps
        assert "attenuator" in Budget(manifest.model_copy(update={"uncertainty": []})).gaps


class TestPlusMinus:
    REFUSED: typing.ClassVar = {
        "dose": ('"1.8 J/cm^2"', '"1.8 J/cm^2 ± 0.1 J/cm^2"', "requirement.dose", "a limit is set"),
        "irradiance": (
            '"60 mW/cm^2"',
            '"60 mW/cm^2 ± 5 %"',
            "requirement.minimum_irradiance",
            "a limit is set",
        ),
        "time": (
            '"30 s"',
            '"30 s ± 1 s"',
            "requirement.maximum_time",
            "a plain value: a limit is set, and has no",
        ),
        "most": ('"2.0 W/cm^2"', '"2.0 W/cm^2 ± 1 %"', "adhesive.maximum_irradiance", "a limit is set"),
        "sheet": ('"365 nm"', '"365 nm ± 1 nm"', "requirement.data_sheet_wavelength", "a limit is set"),
        "edge": (
            '["320 nm", "430 nm"]',
            '["320 nm ± 1 nm", "430 nm"]',
            "requirement.band.1",
            "a limit is set",
        ),
        "target": (
            'target = ["320 nm", "430 nm"]',
            'target = ["320 nm", "430 nm ± 1 nm"]',
            "radiometer.1.calibration_target.2",
            "the limits of a band are agreed, and have no uncertainty",
        ),
        "of itself": (
            '_uncertainty = "3 %"',
            '_uncertainty = "3 % ± 1 %"',
            "radiometer.1.calibration_uncertainty",
            "an uncertainty has none of its own",
        ),
        "scale": ("= 65535", '= "65535 ± 10"', "instrument.full_scale", "the highest count that there is"),
        "level": ('"95 %"', '"95 % ± 1 %"', "instrument.saturation", "a limit is set"),
        "times": (
            '["2 ms",',
            '["2 ms ± 1 %",',
            "instrument.integration_times.1",
            "frames and darks are matched",
        ),
        "bond line": (
            '"0.15 mm ± 0.02 mm"',
            '"0.15 mm ± 0.05 mm"',
            "adhesive.bond_line",
            "a ± of at most a quarter of the value",
        ),
        "distance": ('"12 mm ± 0.3 mm"', '"12 mm ± 9 mm"', "source.3.distance", "a quarter of the value"),
        "concentration": (
            '"0.02 mol/L ± 5 %"',
            '"0.02 mol/L ± 30 %"',
            "adhesive.initiator.1.concentration",
            "a quarter of the value",
        ),
        "nothing": (
            '"0.02 mol/L ± 5 %"',
            '"0 mol/L ± 0.001 mol/L"',
            "adhesive.initiator.1.concentration",
            "a quarter of the value",
        ),
        "index": (
            '"1.50 ± 0.01"',
            '"1.50 ± 0.2"',
            "adhesive.index",
            "of its distance from 1, below which it",
        ),
    }  # what is replaced, by what; the key; what was expected

    @pytest.mark.parametrize("case", REFUSED)
    def test_one_that_makes_no_sense_is_refused(self, text, case):
        old, new, key, expected = self.REFUSED[case]
        before, found, after = text.partition(old)
        assert found
        with pytest.raises(BenchError) as caught:
            parse_manifest(before + new + after, Path("bench.toml"))
        (fault,) = caught.value.faults
        assert fault.key == key
        assert re.search(r'"[^"]*±[^"]*"', fault.found)[0] in new
        assert re.search(expected, fault.expected)
        assert fault.line == text[: text.index(old)].count("\n") + 1
        advice = "Leave the ± out." if "plain value" in fault.expected else "of a tolerance ±a write a/√3"
        assert advice in fault.advice

    def test_one_at_its_widest_stays_above_zero(self, bench):
        """Φ(-4) is one in 31,574: of 1,000 draws at a quarter, one may reach 0, and none lies below."""
        bench("bench.toml", "0.15 mm ± 0.02 mm", "0.16 mm ± 0.04 mm")
        film = sb.reduce_bench(bench.folder, draws=1000, seed=1)["adhesive/absorbance"]
        assert float(film.min()) >= 0
        assert float((film.sel(wavelength=365, method="nearest") == 0).mean()) <= 2e-3

    def test_what_is_not_used_is_named_once(self, bench):
        bench("bench.toml", 'spot = "8 mm"', 'spot = "8 mm ± 0.5 mm"')
        (said,) = unused(manifest_of(sb.open_bench(bench.folder)))
        for name in ("bandwidth (virtual array spectrometer)", "thickness (cover)", "spot (arc)"):
            assert said.count(name) == 1
        assert "bond line" not in said
        assert "index" not in said
        assert said.startswith("the ± of ")
        assert said.endswith(" is stated and not used")

    def test_an_index_counts_only_where_two_of_them_meet(self, bench):
        bench("bench.toml", r'^index = "1\.50 ± 0\.01".*\n', "")
        (said,) = unused(manifest_of(sb.open_bench(bench.folder)))
        assert "index (cover)" in said

    def test_nothing_is_said_where_nothing_is_stated(self, bench):
        path = bench.folder / "bench.toml"
        path.write_text(re.sub(r" ± [^\"\n]*(?=\")", "", path.read_text(encoding="utf-8")), encoding="utf-8")
        manifest = manifest_of(sb.open_bench(bench.folder))
        assert (list(stated(manifest)), unused(manifest)) == ([], [])

    def test_every_one_is_drawn_refused_or_named(self, whole_tree):
        """Each ± of the demo moves a figure, or is in the sentence."""
        manifest = manifest_of(whole_tree)
        said = unused(manifest)[0]
        drawn = [
            key for key, owner, _ in stated(manifest) if f"{key.rpartition('.')[2]} ({owner})" not in said
        ]
        # two of the lamp, five sources, two indices, bond line, two concentrations, the layer of resin
        assert len(drawn) == 13
        assert {key.rpartition(".")[2] for key in drawn} == {
            *("certified_distance", "distance", "bond_line", "concentration", "index", "layer")
        }


def test_an_exposure_that_never_ends_in_some_draws(budgeted, best):
    """Points of transmittance as wide as three quarters of it: Φ(-4/3) of the draws let no light through."""
    source, most = "LED 385", 0.0912
    light = best["sources/spectral_irradiance"].sel(source=source)
    arrives = sb.band_irradiance(light * best["parts/transmittance"].isel(part=0), 320, 430)
    passed = float(arrives / sb.band_irradiance(light, 320, 430))
    tree = budgeted(f"{PART}size = {0.75 * passed:.4f}\nrelative = false")
    result = sb.compare(tree, draws=500, seed=1, contributions=True).sel(source=source)
    never = float(np.isinf(result.exposure_time).mean())
    assert never == pytest.approx(most, abs=4 * np.sqrt(most * (1 - most) / 500))
    judged = result.sel(criterion="time")
    assert 0.05 < float(judged.share_met) < 1 - never
    assert judged.verdict == "not known"
    assert re.match(r"[\d.]+ s \([\d.]+–never\) of exposure, [\d.]+ % of the 30 s", judged.reason.item())
    assert result.variance_share.sel(figure="exposure_time").isnull().all()
    assert result.variance_share.sel(figure="band_irradiance").sum() == pytest.approx(1)


def test_a_bench_without_any_uncertainty_has_no_intervals(bench):
    """Single scans and reference, no ±, no budget, no log: nothing to draw, however many are asked for."""
    bench.manifest(', "raw/reference_after.csv"]', "]")
    path = bench.folder / "bench.toml"
    content = with_lines(path.read_text(encoding="utf-8"))
    content = "\n".join(b for b in re.split(r"\n(?=\[)", content) if not b.startswith("[[ageing]]"))
    path.write_text(re.sub(r" ± [^\"]*", "", content), encoding="utf-8")
    for file in (bench.folder / "raw").glob("*.csv"):
        lines = file.read_text(encoding="utf-8").splitlines()
        first = next(i for i, line in enumerate(lines) if line[0].isdigit())
        if "counts 1" in lines[first - 1]:
            rows = [",".join(line.split(",")[:2]) for line in lines[first - 1 :]]
            file.write_text("\n".join([*lines[: first - 1], *rows]) + "\n", encoding="utf-8")
    tree = sb.open_bench(bench.folder)
    found, best = sb.compare(tree, draws=20, seed=1, contributions=True), sb.compare(tree)
    xr.testing.assert_identical(found.drop_attrs(), best.drop_attrs())
    assert "these figures carry none" in found.attrs["not_measured"]


@pytest.mark.parametrize("source", ["LED 405", "arc"])
def test_of_holds_for_sources_that_share_a_file(budgeted, source):
    line = f'name = "x"\ninput = "attenuator"\nsize = "2 %"\nrelative = true\nof = ["{source}"]\n'
    light = reduced_by(budgeted(line), "x", 50)["sources/spectral_irradiance"].isel(wavelength=60)
    moves = light.std("draw") > 1e-9 * abs(light.mean("draw"))
    assert light.source.values[moves.values].tolist() == [source]


def test_fewer_draws_than_an_interval_needs(tree):
    with pytest.raises(RangeError, match="a comparison takes 0 or at least 20 draws, not 19"):
        sb.compare(tree, draws=19)


class TestFromMemory:
    """Curves that come with us and are from memory, known within 20 to 30 %."""

    CURVE = "diphenyl_2_4_6_trimethylbenzoyl_phosphine_oxide"

    def caution(self, bench, size, distribution="normal"):
        bench.manifest('curve = "raw/initiator_b.csv"', f'reference = "{self.CURVE}"')
        path = bench.folder / "bench.toml"
        line = f'name = "x"\ninput = "absorption coefficient"\nsize = "{size}"\n'
        line += f'distribution = "{distribution}"\n'
        path.write_text(with_lines(path.read_text(encoding="utf-8"), line), encoding="utf-8")
        (said,) = json.loads(sb.reduce_bench(bench.folder)["adhesive"].attrs["cautions"])
        return said

    def test_a_budget_that_trusts_it_more_than_it_trusts_itself(self, bench):
        said = self.caution(bench, "5 %")
        assert said.startswith(
            "absorption of initiator B: from memory, to 1 or 2 digits, within 20 to 30 %: A few"
        )
        assert said.endswith(
            "The budget counts on 5 %, which is better than the curve: known within 20 % at best, its "
            "standard uncertainty is 12 % or more."
        )

    def test_a_budget_that_does_not(self, bench):
        assert "The budget" not in self.caution(bench, "12 %", "rectangular")  # 20 %/√3 = 11.5 %

    def test_one_that_does_not_cover_the_band(self, bench):
        bench.manifest('curve = "raw/initiator_b.csv"', 'reference = "camphorquinone"')
        fault = bench.fault(sb.reduce_bench)
        assert fault.key == "adhesive.initiator.2.reference"
        assert fault.line == bench.line_of('reference = "camphorquinone"')
        assert fault.found == "a curve over 365–469 nm, without 320 nm; what is not known is not 0"
        assert fault.expected == "a curve over band and data sheet wavelength, nowhere negative"


@pytest.mark.parametrize("draws", [0, 50])
def test_contributions_take_draws_of_a_bench_that_is_not_reduced(opened, reduced, draws):
    """A reduced bench has lost what each cause does alone; it is refused, not left out in silence."""
    bench = reduced if draws else opened
    with pytest.raises(RangeError, match="takes draws of a bench that is not reduced yet"):
        sb.compare(bench, draws=draws, contributions=True)
