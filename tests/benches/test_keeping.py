"""What a manifest says of running a source, of limits, and of logs: taken, or refused by its key."""

from __future__ import annotations

import re
import tomllib

import numpy as np
import pytest

import spectralbench as sb
from spectralbench.ageing import fit_two_stage, output_left
from spectralbench.benches.at_bond import requirement_of
from spectralbench.benches.keeping import keepings
from spectralbench.benches.plus_minus import unused
from spectralbench.benches.schema import Manifest
from spectralbench.errors import BenchError

RUNNING = """[running]
hours_per_year = "2000 h"
exposures_per_year = 150000
energy_price = 0.25
currency = "EUR"

"""
ARC, LED = 'name = "arc"\n', 'name = "LED 405"\n'
KEPT = 'mercury = "22 mg"\nlamp_price = 420\ndisposal_price = 12.5\n'
PART, ADHESIVE, REQUIREMENT = 'name = "cover"\n', 'name = "adhesive (invented)"\n', "[requirement]\n"
SHEET = 'data_sheet_wavelength = "365 nm"\n'
TABLE = "[heat]"


@pytest.fixture(scope="module")
def original(lean):
    return lean


@pytest.fixture(scope="module")
def text(demo, plain):
    return plain((demo / "bench.toml").read_text(encoding="utf-8"))


def after(text, place, lines):
    """The text with lines below its first `place`, and the number of the first of them."""
    before, found, rest = text.partition(place)
    assert found
    return before + place + lines + rest, (before + place).count("\n") + 1


def read(text, *additions):
    for place, lines in additions:
        text, _ = after(text, place, lines)
    return Manifest.model_validate(tomllib.loads(text))


def test_what_a_source_takes_is_as_the_manifest_says(text):
    kept = keepings(read(text, (ARC, KEPT)))["arc"]
    assert kept.burns_on
    assert (kept.mercury, kept.end_of_life) == (22.0, 3000.0)
    assert np.isnan(kept.hours_per_year)  # without a table, nothing of a year
    assert np.isnan(kept.lamp_price)
    both = text.replace(TABLE, RUNNING + TABLE, 1)
    arc, led = (
        keepings(read(both, (ARC, KEPT), (LED, "lamp_price = 1800.0\n")))[n] for n in ("arc", "LED 405")
    )
    assert (arc.hours_per_year, arc.exposures_per_year, arc.energy_price) == (2000.0, 150_000.0, 0.25)
    assert (arc.lamp_price, arc.disposal_price, arc.currency) == (420.0, 12.5, "EUR")
    assert (led.burns_on, led.lamp_price, led.disposal_price, led.mercury) == (False, 1800.0, 0.0, 0.0)


def test_what_is_not_stated_is_not_known(text):
    kept = keepings(
        read(text.replace(TABLE, RUNNING + TABLE, 1).replace("exposures_per_year = 150000\n", ""))
    )
    assert np.isnan(kept["arc"].mercury)
    assert np.isnan(kept["arc"].lamp_price)
    assert np.isnan(kept["LED 405"].exposures_per_year)


def test_a_source_of_mercury_that_is_called_an_led_is_not_taken_for_clean(text):
    with pytest.raises(ValueError, match="0 mg, or another kind: an LED holds no mercury"):
        read(text, (LED, 'mercury = "5 mg"\n'))


def test_a_year_of_a_bench_by_hand(bench):
    """150,000 exposures of the LED, and 2,000 h of an arc whose light is not known by its pixels."""
    bench.manifest(REQUIREMENT, RUNNING + REQUIREMENT)
    bench.manifest(ARC, ARC + KEPT)
    bench.manifest(LED, LED + "lamp_price = 1800\ndisposal_price = 5\n")
    result = sb.compare(bench.folder)
    led = result.sel(source="LED 405")
    hours = 150_000 * led.exposure_time.item() / 3600
    assert led.hours_on.item() == pytest.approx(hours)
    assert led.energy_per_year.item() == pytest.approx(0.046 * hours)
    # half after 20,000 h, of light that was measured after 500 h
    lasts = led.band_irradiance.item() * 2 ** (500 / 20000) / 600
    lamps = hours / min(20000, 20000 * np.log2(lasts))
    assert led.lamps_per_year.item() == pytest.approx(lamps)
    assert led.cost_per_year.item() == pytest.approx(0.25 * 0.046 * hours + lamps * 1805)
    assert led.cost_per_year.attrs["units"] == "EUR"
    arc = result.sel(source="arc")
    assert arc.hours_on.item() == 2000.0
    assert arc.energy_per_year.item() == pytest.approx(520.0)
    assert "EUR" in led.reason.sel(criterion="running cost").item()
    assert led.verdict.sel(criterion="mercury").item() == "no limit"
    assert result.reason.sel(source="arc", criterion="mercury").item() == "22 mg in one lamp"


def test_the_requirement_takes_over_every_key(text):
    limits = {
        'minimum_match = "5 %"\n': ("minimum_match", 0.05),
        'minimum_life = "1000 h"\n': ("minimum_life", 1000.0),
        'maximum_power = "0.3 kW"\n': ("maximum_power", 300.0),
        'maximum_mercury = "0 mg"\n': ("maximum_mercury", 0.0),
        'speed = "1.2 m/min"\n': ("speed", 20.0),
        "passes = 3\n": ("passes", 3),
    }
    bond = {
        'oxygen_threshold = "2 mW/cm^2"\n': ("oxygen_threshold", 20.0),
        'bond_width = "0.3 cm"\n': ("bond_width", 3.0),
    }
    found = requirement_of(read(text, (REQUIREMENT, "".join(limits)), (ADHESIVE, "".join(bond))))
    for name, value in (*limits.values(), *bond.values()):
        assert getattr(found, name) == pytest.approx(value), name
    plain = requirement_of(read(text))
    assert {getattr(plain, name) for name, _ in (*limits.values(), *bond.values())} == {None, 1}


REGULAR = 'regular = { sample = "raw/x.csv", references = ["raw/y.csv"] }\n'
NO_INDEX = 'index = "1.53 ± 0.005"\n'

# where the lines stand, the lines, key, what was found, what was expected
FAULTS = {
    "thickness without an index": (
        *(PART, 'working_thickness = "1 mm"\n', "part.1.working_thickness"),
        *('"1 mm"', "index beside it: surfaces stay, whatever the thickness"),
    ),
    "floor without a thickness": (
        *(PART, 'floor = "0.2 %"\n', "part.1.floor", '"0.2 %"'),
        "working_thickness beside it: the floor limits what is predicted",
    ),
    "no floor": (PART, 'working_thickness = "1 mm"\nfloor = 0\n', "part.1.floor", '"0"', "a value above 0"),
    "floor above all": (
        *(PART, 'working_thickness = "1 mm"\nfloor = "120 %"\n', "part.1.floor"),
        *('"120 %"', "a value of at most 1"),
    ),
    "no thickness": (
        *(PART, 'working_thickness = "0 mm"\n', "part.1.working_thickness"),
        *('"0 mm"', "a value above 0 mm"),
    ),
    "regular, and nobody says what else": (
        *(PART, REGULAR, "part.1.regular"),
        *("a table", 'collected = "total" beside it'),
    ),
    "regular twice": (
        *(PART, f'collected = "regular"\n{REGULAR}', "part.1.regular"),
        *("a table", "the sphere collected the other sample"),
    ),
    "regular without references": (
        *(PART, 'collected = "total"\nregular = { sample = "raw/x.csv", references = [] }\n'),
        *("part.1.regular.references", r"\[\]", "or more of them"),
    ),
    "collected by something else": (
        PART,
        'collected = "all"\n',
        "part.1.collected",
        '"all"',
        "'total'.*'regular'",
    ),
    "threshold without a wavelength": (
        *(ADHESIVE, 'oxygen_threshold = "2 mW/cm^2"\n', "adhesive.oxygen_threshold"),
        *('"2 mW/cm.2"', "requirement.data_sheet_wavelength beside it: the wavelength for which it holds"),
    ),
    "threshold of nothing": (
        *(ADHESIVE, 'oxygen_threshold = "0 W/m^2"\n', "adhesive.oxygen_threshold"),
        *('"0 W/m.2"', "a value above 0 W m-2"),
    ),
    "no width": (ADHESIVE, 'bond_width = "0 mm"\n', "adhesive.bond_width", '"0 mm"', "a value above 0 mm"),
    "lamp that is paid for": (
        ARC,
        "lamp_price = -1\n",
        "source.1.lamp_price",
        '"-1"',
        "greater than or equal to 0",
    ),
    "disposal that pays": (
        *(ARC, "disposal_price = -0.5\n", "source.1.disposal_price"),
        *('"-0.5"', "greater than or equal to 0"),
    ),
    "price as a text": (ARC, 'lamp_price = "420 EUR"\n', "source.1.lamp_price", '"420 EUR"', "number"),
    "negative mercury": (
        ARC,
        'mercury = "-1 mg"\n',
        "source.1.mercury",
        '"-1 mg"',
        "a value of at least 0 mg",
    ),
    "mercury in kelvins": (ARC, 'mercury = "20 K"\n', "source.1.mercury", '"20 K"', 'such as "2 mg"'),
    "profile of elsewhere": (
        ARC,
        'profile = "../x.csv"\n',
        "source.1.profile",
        "x.csv",
        "inside the bench folder",
    ),
    "no pass": (REQUIREMENT, "passes = 0\n", "requirement.passes", '"0"', "greater than or equal to 1"),
    "half a pass": (REQUIREMENT, "passes = 1.5\n", "requirement.passes", '"1.5"', "whole number"),
    "no speed": (
        REQUIREMENT,
        'speed = "0 mm/s"\n',
        "requirement.speed",
        '"0 mm/s"',
        "a value above 0 mm s",
    ),
    "more than all": (
        REQUIREMENT,
        'minimum_match = "101 %"\n',
        "requirement.minimum_match",
        '"101 %"',
        "at most 1",
    ),
    "negative power": (
        *(REQUIREMENT, 'maximum_power = "-1 W"\n', "requirement.maximum_power"),
        *('"-1 W"', "a value of at least 0 W"),
    ),
    "a life in euros": (
        REQUIREMENT,
        'minimum_life = "9 mm"\n',
        "requirement.minimum_life",
        '"9 mm"',
        'such as "2 h"',
    ),
}
PLUS_MINUS = {
    'minimum_match = "5 % ± 1 %"\n': "minimum_match",
    'minimum_life = "1000 h ± 10 h"\n': "minimum_life",
    'maximum_power = "300 W ± 3 W"\n': "maximum_power",
    'maximum_mercury = "20 mg ± 2 mg"\n': "maximum_mercury",
    'speed = "20 mm/s ± 1 mm/s"\n': "speed",
}
FAULTS |= {
    f"± of {name}": (REQUIREMENT, line, f"requirement.{name}", "±", "a limit is set, and has no uncertainty")
    for line, name in PLUS_MINUS.items()
}
OF_A_YEAR = {
    "more than a year": (
        'hours_per_year = "2000 h"',
        'hours_per_year = "9000 h"',
        '"9000 h"',
        "at most 8784 h",
    ),
    "no hours": ('hours_per_year = "2000 h"', 'hours_per_year = "0 h"', '"0 h"', "a value above 0 h"),
    "no exposures": ("= 150000", "= 0", '"0"', "a value above 0"),
    "energy that is paid for": ("energy_price = 0.25", "energy_price = -0.25", '"-0.25"', "or equal to 0"),
    "infinite price": ("energy_price = 0.25", "energy_price = inf", '"inf"', "less than or equal to|finite"),
    "no currency": ('currency = "EUR"', 'currency = ""', '""', "at least 1 character"),
    "long currency": (
        'currency = "EUR"',
        'currency = "doubloons and pieces"',
        "doubloons",
        "at most 10 char",
    ),
    "an unknown key": (
        "energy_price = 0.25",
        "price = 1\nenergy_price = 0.25",
        "an unknown key",
        "only the keys",
    ),
}


@pytest.fixture
def faults(tmp_path):
    """Write a manifest without raw files, and open it."""

    def refuse(content):
        (tmp_path / "bench.toml").write_text(content, encoding="utf-8")
        with pytest.raises(BenchError) as caught:
            sb.open_bench(tmp_path)
        return caught.value.faults

    return refuse


@pytest.mark.parametrize("case", FAULTS)
def test_a_fault_names_key_and_line(text, faults, case):
    place, lines, key, found, expected = FAULTS[case]
    if "without an index" in case:
        text = text.replace(NO_INDEX, "", 1)
    if "without a wavelength" in case:
        text = text.replace(SHEET, "", 1)
    content, line = after(text, place, lines)
    (fault,) = faults(content)
    assert fault.key == key
    assert re.search(found, fault.found)
    assert re.search(expected, fault.expected)
    written = content.splitlines()[fault.line - 1]
    assert line <= fault.line < line + lines.count("\n")
    assert key.split(".")[2 if key[-1] not in "0123456789" and key.count(".") > 1 else -1] in written


def test_a_limit_is_told_in_its_unit(text, faults):
    content, _ = after(text, REQUIREMENT, 'speed = "0 mm/s"\n')
    (fault,) = faults(content)
    assert fault.expected == "a value above 0 mm s-1"


@pytest.mark.parametrize("case", OF_A_YEAR)
def test_a_fault_of_a_year_names_key_and_line(text, faults, case):
    old, new, found, expected = OF_A_YEAR[case]
    content = text.replace(TABLE, RUNNING.replace(old, new, 1) + TABLE, 1)
    (fault,) = faults(content)
    assert fault.key.startswith("running.")
    assert re.search(found, fault.found)
    assert re.search(expected, fault.expected)
    assert content.splitlines()[fault.line - 1].startswith(fault.key.removeprefix("running."))


@pytest.mark.parametrize("key", ["hours_per_year", "energy_price", "currency"])
def test_a_year_takes_hours_a_price_and_a_currency(text, faults, key):
    short = re.sub(rf"^{key} = .*\n", "", RUNNING, flags=re.MULTILINE)
    (fault,) = faults(text.replace(TABLE, short + TABLE, 1))
    assert (fault.key, fault.found) == (f"running.{key}", "no such key")
    assert fault.advice == "Add it to [running]."


@pytest.mark.parametrize(
    ("place", "line", "said"),
    [
        (ADHESIVE, 'oxygen_threshold = "2 mW/cm^2 ± 0.1 mW/cm^2"\n', "oxygen threshold"),
        (ADHESIVE, 'bond_width = "3 mm ± 0.1 mm"\n', "bond width"),
        (ARC, 'mercury = "22 mg ± 2 mg"\n', "mercury (arc)"),
    ],
)
def test_a_plus_minus_that_is_not_used_is_told(text, place, line, said):
    (sentence,) = unused(read(text, (place, line)))
    assert said in sentence


HOURS = np.array([0.0, 100, 200, 300, 500, 700, 900])
EARLY, LATE, UNTIL = 8e-4, 3e-5, 250.0
STEADY = "LED 385"  # whose pixels are all valid, and of which nothing is stated


def written(output):
    """A log as a file."""
    rows = "".join(f"{at:g},{value:.8g}\n" for at, value in zip(HOURS, output, strict=True))
    return f"hours [h],relative output [1]\n{rows}"


def log(scatter):
    """A log that falls fast for 250 h and slowly from then on; all invented."""
    output = np.exp(-EARLY * np.minimum(HOURS, UNTIL) - LATE * np.maximum(HOURS - UNTIL, 0))
    output *= np.exp(scatter * np.random.default_rng(3).standard_normal(HOURS.size))
    return written(output), output


@pytest.fixture
def logged(bench):
    """A bench with a log of an LED whose pixels are all valid."""

    def with_log(content, end=5000):
        bench.manifest(
            'hours = "1200 h"\nend_of_life = "20000 h"', f'hours = "1200 h"\nend_of_life = "{end} h"'
        )
        (bench.folder / "raw" / "log.csv").write_text(content, encoding="utf-8")
        bench.manifest(
            "[[ageing]]\n", f'[[ageing]]\nsource = "{STEADY}"\nfile = "raw/log.csv"\n\n[[ageing]]\n'
        )
        return bench.folder

    return with_log


def test_a_log_that_shows_two_stages_is_fitted_so_and_its_end_of_life_follows(logged):
    """LED 385 has 1,200 h of use today and is replaced after 5,000: only the late rate is left."""
    content, output = log(0.0005)
    tree = sb.reduce_bench(logged(content))
    fit = tree[f"ageing/{STEADY}"].to_dataset()
    expected = fit_two_stage(HOURS, np.array([float(f"{value:.8g}") for value in output]))
    assert expected["better"] == 2
    for name in ("initial", "early_rate", "late_rate", "early_until"):
        assert fit[name].item() == pytest.approx(expected[name].item(), rel=1e-6), name
    assert fit["late_rate"].item() == pytest.approx(LATE, rel=0.1)
    result = sb.compare(tree).sel(source=STEADY)
    left = output_left(expected, 5000.0, 1200.0).item()
    assert left == pytest.approx(np.exp(-expected["late_rate"].item() * 3800), rel=1e-9)
    assert result.end_of_life_output.item() == pytest.approx(left, rel=1e-6)
    assert result.end_of_life_irradiance.item() == pytest.approx(
        left * result.band_irradiance.item(), rel=1e-6
    )
    basis = "from a log that ends at 900 h, in two stages that part at 2"
    assert basis in result.reason.sel(criterion="end of life").item()
    assert result.reason.sel(criterion="end of life").item().endswith("extrapolated to 5000 h)")
    # the arc's log, as the demo writes it, has its own fit beside it
    assert "half" in tree["ageing/arc"]


def test_a_log_says_nothing_beyond_six_times_its_last_hour(logged):
    """Common practice, no source: 900 h say something up to 5,400 h, however straight the line."""
    content, _ = log(0.0005)
    result = sb.compare(logged(content, end=20000), draws=40, seed=1).sel(source=STEADY)
    assert result.end_of_life_output.isnull().all()
    assert result.verdict.sel(criterion="end of life") == "not known"
    assert "beyond 6 times, 5400 h, it says nothing" in result.reason.sel(criterion="end of life").item()
    assert (result.hours_left == 5400 - 1200).all()  # as far as it goes, and full setting suffices until then


def test_up_to_six_times_it_does(logged):
    content, _ = log(0.0005)
    result = sb.compare(logged(content, end=5400), draws=40, seed=1).sel(source=STEADY)
    assert result.end_of_life_output.notnull().all()


def test_a_log_goes_before_what_is_stated(logged):
    content, _ = log(0.0005)
    folder = logged(content)
    path = folder / "bench.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('hours = "1200 h"', 'hours = "1200 h"\nstated_end_output = "50 %"'), "utf-8")
    result = sb.compare(folder).sel(source=STEADY)
    assert result.end_of_life_output.item() > 0.8
    assert "not from the 50 % that its maker states" in result.reason.sel(criterion="end of life").item()


def test_a_log_that_shows_one_stage_is_fitted_so(logged):
    output = np.exp(-1e-4 * HOURS + 0.002 * np.random.default_rng(0).standard_normal(HOURS.size))
    fit = sb.reduce_bench(logged(written(output)))[f"ageing/{STEADY}"].to_dataset()
    assert fit["rate"].item() == pytest.approx(1e-4, rel=0.1)
    assert "early_rate" not in fit


def test_a_short_log_has_one_stage_whatever_it_shows(logged):
    content, _ = log(0.0)
    short = "\n".join(content.splitlines()[:6]) + "\n"  # five points
    fit = sb.reduce_bench(logged(short))[f"ageing/{STEADY}"].to_dataset()
    assert "rate" in fit


def test_two_stages_are_drawn(logged):
    """The draws scatter as the residuals say, about what was fitted."""
    content, _ = log(0.002)
    folder = logged(content)
    best = sb.reduce_bench(folder)[f"ageing/{STEADY}"].to_dataset()
    assert "late_rate" in best
    result = sb.compare(folder, draws=40, seed=1).sel(source=STEADY)
    left = result.end_of_life_output
    assert left.sizes["draw"] == 40
    assert 0 < float(left.std()) < 1
    at_best = output_left(best, 5000.0, 1200.0).item()
    assert left.min() < at_best < left.max()


def test_heads_together_end_as_weak_as_the_weakest(logged):
    """LED 405 has half of a new one's output after 20,000 h; LED 385 ages by its log, and less."""
    content, _ = log(0.0005)
    folder = logged(content)
    path = folder / "bench.toml"
    heads = '[{ source = "LED 405", setting = "50 %" }, { source = "LED 385", setting = "80 %" }]'
    text = path.read_text(encoding="utf-8")
    path.write_text(
        text.replace("[[part]]\n", f'[[together]]\nname = "both"\nheads = {heads}\n\n[[part]]\n', 1), "utf-8"
    )
    result = sb.compare(folder)
    left = result.end_of_life_output
    assert left.sel(source="both") == left.sel(source="LED 405") < left.sel(source="LED 385")
    both = result.sel(source="both")
    # the highest head stands at 80 %: so much more all of them have to give
    expected = both.band_irradiance.item() / 0.8 * left.sel(source="LED 405").item()
    assert both.end_of_life_irradiance.item() == pytest.approx(expected)
    assert "as weak as the one that loses most" in both.reason.sel(criterion="end of life").item()
    # at least as long as the first of them holds what all have to hold, or is replaced
    assert both.hours_left.item() == min(19500.0, 5000.0 - 1200.0)
    assert "at least, each head as weak as" in both.reason.sel(criterion="life").item()
    assert both.electrical_power.item() == pytest.approx(0.5 * 46 + 0.8 * 50)  # LEDs, by their settings


def test_an_arc_among_heads_draws_all_of_its_power(bench):
    heads = '[{ source = "arc", setting = "50 %" }, { source = "LED 405", setting = "50 %" }]'
    bench.manifest("[[part]]\n", f'[[together]]\nname = "both"\nheads = {heads}\n\n[[part]]\n')
    both = sb.compare(bench.folder).sel(source="both")
    assert both.electrical_power.item() == pytest.approx(260 + 23)


def test_where_a_log_ends_its_maker_is_heard(logged):
    """Beyond six times its last hour the stated output counts, and from where it is stated."""
    content, _ = log(0.0005)
    folder = logged(content, end=20000)
    path = folder / "bench.toml"
    text = path.read_text(encoding="utf-8")
    stated = 'hours = "1200 h"\nstated_end_output = "50 %"\nstated_at = "15000 h"'
    path.write_text(text.replace('hours = "1200 h"', stated), "utf-8")
    result = sb.compare(folder).sel(source=STEADY)
    assert result.end_of_life_output.item() == pytest.approx(0.5 ** (18800 / 15000))
    assert "as its maker states, not measured" in result.reason.sel(criterion="end of life").item()


HOURS_OF_USE, END = "its hours of use so far (hours)", "the hours at which it is replaced (end_of_life)"
OUTPUT = "its output over these hours, logged or as its maker states it ([[ageing]] or stated_end_output)"


@pytest.mark.parametrize(
    ("left_out", "missing"),
    [("nothing", [OUTPUT]), ("hours", [HOURS_OF_USE, OUTPUT]), ("end_of_life", [END, OUTPUT])],
)
def test_what_is_missing_of_an_end_of_life_is_named_with_its_key(bench, left_out, missing):
    """Of an LED that has hours and an end, and no log."""
    lines = {"hours": 'hours = "1200 h"\n', "end_of_life": 'end_of_life = "20000 h"\n'}
    kept = "".join(line for name, line in lines.items() if name != left_out)
    bench.manifest("".join(lines.values()), kept)
    result = sb.compare(bench.folder).sel(source=STEADY, criterion="end of life")
    assert result.verdict == "not known"
    assert result.reason.item() == f"not stated: {'; '.join(missing)}"


@pytest.mark.parametrize(
    ("line", "key", "expected"),
    [
        ('stated_at = "20000 h"', "stated_at", "stated_end_output beside it: what is left at those hours"),
        ('stated_end_output = "50 %"', "stated_end_output", "end_of_life beside it: the hours at which"),
    ],
)
def test_what_is_stated_is_stated_whole(bench, line, key, expected):
    path = bench.folder / "bench.toml"
    text = path.read_text(encoding="utf-8")
    first = text.index('name = "arc"')
    text = text[:first] + text[first:].replace('end_of_life = "3000 h"\n', f"{line}\n", 1)
    path.write_text(text, encoding="utf-8")
    fault = bench.fault()
    assert fault.key == f"source.1.{key}"
    assert fault.expected.startswith(expected)
