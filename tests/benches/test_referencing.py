"""A part against its references: steps, long waits, saturation; the draws by closed forms."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

import spectralbench as sb
from spectralbench.benches.budget import Budget
from spectralbench.benches.folder import manifest_of, open_bench
from spectralbench.benches.frames import best_estimates
from spectralbench.benches.reducing import reduced_with
from spectralbench.benches.referencing import CAUSE, drift
from spectralbench.benches.steps import Steps


@pytest.fixture(scope="module")
def original(lean):
    return lean


def scaled(folder, name, factor):
    """A frame of the bench whose light is another share of itself."""
    dark = sb.read(folder / "raw/dark_20ms.csv")["counts"].mean("spectrum").values
    path = folder / "raw" / f"{name}.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    first = next(i for i, line in enumerate(lines) if line[0].isdigit())
    for i, row in enumerate(lines[first:]):
        at, *counts = row.split(",")
        light = [str(round(dark[i] + factor * (float(count) - dark[i]))) for count in counts]
        lines[first + i] = ",".join([at, *light])
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def saturated(folder, name, pixels=slice(None)):
    path = folder / "raw" / f"{name}.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    first = next(i for i, line in enumerate(lines) if line[0].isdigit())
    rows = lines[first:]
    rows[pixels] = [re.sub(r",[\d.]+", ",65535", row) for row in rows[pixels]]
    path.write_text("\n".join(lines[:first] + rows) + "\n", encoding="utf-8")


def cautions(tree):
    return json.loads(tree["parts"].attrs["cautions"])


def at_405(tree):
    return tree["parts/quoted"].sel(part="cover", quoted_wavelength=405)


def test_a_step_of_the_lamp_is_said_and_lies_within_the_interval(bench):
    """The lamp falls to 82 % right after the first reference, and to 80 % until the second one."""
    truth = at_405(sb.reduce_bench(bench.folder)).item()
    for name, share in (("cover", 0.82), ("reference_after", 0.8)):
        scaled(bench.folder, name, share)
    tree = sb.reduce_bench(bench.folder, draws=400, seed=1)
    (said,) = cautions(tree)
    assert re.match(r"cover: the lamp drifted by 29 % between its references\. What is interpolated", said)
    assert "only if it drifted steadily: measure again, with references closer in time" in said
    assert said in json.loads(sb.compare(tree).attrs["not_measured"])
    found = sb.summarize(at_405(tree))
    assert found.value.item() < 0.94 * truth
    assert found.low.item() < truth < found.high.item()


@pytest.mark.parametrize(("minute", "share"), [(15, 0.5), (21, 0.7), (3, 0.1)])
def test_the_lamp_stood_anywhere_between_its_neighbours(bench, minute, share):
    """Half-way a rectangular distribution (JCGM 100:2008, 4.3.7), of width D: D/√12.

    Elsewhere the beta distribution of 2s and 2(1 - s), of mean s and variance s(1 - s)/3
    (Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions 2, 1995, chapter 25).
    """
    bench("raw/cover.csv", "T10:15", f"T10:{minute:02d}")
    bench("bench.toml", r"^\[\[uncertainty\]\]\n(?:[^\n\[].*\n)*", "")
    best = at_405(sb.reduce_bench(bench.folder)).item()
    opened = open_bench(bench.folder)
    manifest = manifest_of(opened)
    budget = Budget(manifest, 4000, seed=1, only=CAUSE)
    tree = reduced_with(opened, manifest, best_estimates(opened, manifest), Steps(budget))
    lamp = best / at_405(tree).values.astype(float)  # of each draw, against the interpolated one
    apart = tree["parts/drift"].item()  # the second reference is the darker one
    interpolated = 1 + (1 / (1 + apart) - 1) * share
    first, second = 1 / interpolated, 1 / (1 + apart) / interpolated
    assert second - 1e-6 <= lamp.min() < lamp.max() <= first + 1e-6
    assert lamp.mean() == pytest.approx(1.0, abs=2e-3 * apart / 0.035)
    assert lamp.std() == pytest.approx((first - second) * np.sqrt(share * (1 - share) / 3), rel=0.04)


def test_it_is_a_cause_of_its_own_and_of_no_other_figure(bench):
    result = sb.compare(bench.folder, draws=20, seed=1, contributions=True)
    shares = result.variance_share.sel(cause=CAUSE)
    assert (shares.sel(figure="band_irradiance").dropna("source") > 0).all()
    assert (shares.sel(figure="irradiance_at_part").dropna("source") == 0).all()
    assert shares.origin.item() == "where the lamp of a part stood between two references"


def test_a_sample_at_the_moment_of_a_reference_leaves_nothing_open(bench):
    bench("raw/cover.csv", "T10:15", "T10:00")
    result = sb.compare(bench.folder, draws=20, seed=1, contributions=True)
    assert CAUSE not in result.cause.values


def test_references_a_day_apart_are_said(bench):
    bench("raw/reference_after.csv", "2026-03-02T10:30", "2026-03-03T10:30")
    (said,) = cautions(sb.reduce_bench(bench.folder))
    assert said.startswith(
        "cover: its references lie 24.5 h apart, raw/reference_before.csv at 2026-03-02T10:00:00 and "
        "raw/reference_after.csv at 2026-03-03T10:30:00."
    )
    assert "correct a time that is wrong" in said


def test_the_demo_says_nothing_of_its_references(reduced):
    assert cautions(reduced) == []


def test_saturated_references_are_named_as_such(bench):
    for name in ("reference_before", "reference_after"):
        saturated(bench.folder, name)
    faults = bench.faults(sb.reduce_bench)
    for fault, key, name in zip(faults, (1, 2), ("before", "after"), strict=True):
        assert fault.file.startswith(f"raw/reference_{name}.csv (part.1.references.{key}, line ")
        assert re.match(r"128 pixels at .* nm saturated, and no other valid", fault.found)
        assert fault.expected == "a reference below saturation"
        assert "a shorter integration time" in fault.advice


def test_a_reference_that_is_saturated_in_part_is_said(bench):
    saturated(bench.folder, "reference_after", slice(60, 64))
    (said,) = cautions(sb.reduce_bench(bench.folder))
    assert re.match(r"cover: 4 pixels at .* nm of raw/reference_after.csv saturated, so that what it", said)


def test_what_goes_straight_on_is_blamed_by_its_own_files(bench):
    for name in ("cover", "reference_before", "reference_after"):
        text = (bench.folder / "raw" / f"{name}.csv").read_text(encoding="utf-8")
        (bench.folder / "raw" / f"straight_{name}.csv").write_text(text, encoding="utf-8")
    bench.manifest(
        'references = ["raw/reference_before.csv", "raw/reference_after.csv"]\n',
        """references = ["raw/reference_before.csv", "raw/reference_after.csv"]
collected = "total"
[part.regular]
sample = "raw/straight_cover.csv"
references = ["raw/straight_reference_before.csv", "raw/straight_reference_after.csv"]
""",
    )
    bench("raw/straight_reference_after.csv", "2026-03-02T10:30", "2026-03-03T10:30")
    (said,) = cautions(sb.reduce_bench(bench.folder))
    assert said.startswith(
        "cover, straight on: its references lie 24.5 h apart, raw/straight_reference_before"
    )
    bench("raw/straight_cover.csv", "T10:15", "T09:15")
    fault = bench.fault(sb.reduce_bench)
    assert fault.file.startswith("raw/straight_cover.csv (part.1.regular.sample, line ")


def test_a_drift_counts_pixels_that_are_valid_in_all():
    assert drift([[1.0, np.nan, 5.0], [1.0, 3.0, 2.0]]) == pytest.approx(1.0)
