"""JCAMP-DX against published decodings, public files, and another program."""

import json
from importlib.metadata import version
from pathlib import Path

import jcamp
import numpy as np
import pytest
from colour.phenomena.rayleigh import air_refraction_index_Peck1972

from spectralbench.errors import ReadError
from spectralbench.readers.choices import Choices
from spectralbench.readers.content import Content, load
from spectralbench.readers.jcamp import read_jcamp, recognises
from spectralbench.readers.jcamp.abscissa import IN_VACUUM

SAMPLES = Path(__file__).parent.parent / "samples"

# The same seven ordinates in each form, as the decoding tables of the package jcamp 1.3.2 (MIT
# licence) and the test suites of public readers have them.
SEVEN = [1000.0, 2000.0, 2001.0, 2002.0, 2003.0, 2003.0, 2003.0]


def block(table, points, **more):
    records = {
        "TITLE": "decoding",
        "JCAMP-DX": "4.24",
        "DATA TYPE": "UV/VIS SPECTRUM",
        "XUNITS": "NANOMETERS",
        "YUNITS": "COUNTS",
        "FIRSTX": "400",
        "LASTX": f"{400 + points - 1}",
        "NPOINTS": f"{points}",
        "XFACTOR": "1",
        "YFACTOR": "1",
        **more,
        "XYDATA": "(X++(Y..Y))",
    }
    lines = [f"##{label}= {value}" for label, value in records.items()]
    text = "\n".join([*lines, table, "##END=", ""])
    return Content("a.jdx", "a.jdx", "", text.encode(), text, "UTF-8", False)


@pytest.mark.parametrize(
    "row",
    [
        "1000 2000 2001 2002 2003 2003 2003",
        "+1000+2000+2001+2002+2003+2003+2003",
        "A000B000B001B002B003B003B003",
        "A000J000JJJ%%",
        "A000J000JU%%",
        "A000J000JU%T",
    ],
)
def test_a_published_decoding(row, agrees):
    dataset = read_jcamp(block(f"400 {row}", 7), Choices())
    assert dataset.counts.values.tolist() == SEVEN
    assert dataset.wavelength.values.tolist() == [400, 401, 402, 403, 404, 405, 406]
    source = f"decoding tables of jcamp {version('jcamp')}"
    agrees(f"last ordinate of {row}", dataset.counts[-1], "2003", source, standing="package")


@pytest.mark.parametrize(("row", "values"), [("50U", [50.0] * 3), ("50%U", [50.0] * 4)])
def test_a_published_count_of_repeats(row, values):
    assert read_jcamp(block(f"400 {row}", len(values)), Choices()).counts.values.tolist() == values


def test_a_published_check_between_two_rows():
    """The checkpoint 2.002 stands twice and counts once."""
    dataset = read_jcamp(load(SAMPLES / "jcamp_lamp.jdx"), Choices())
    expected = [1.0, 2.0, 2.001, 2.002, 2.003, 2.003, 2.003]
    np.testing.assert_allclose(dataset.spectral_irradiance, expected, rtol=1e-15)
    assert dataset.wavelength.values.tolist() == [400, 401, 402, 403, 404, 405, 406]
    assert json.loads(dataset.attrs["warnings"]) == []


@pytest.mark.parametrize("name", ["jcamp_dupdec2", "jcamp_dupinc1", "jcamp_jtpolysd", "jcamp_pacdec1"])
def test_a_public_file_as_another_program_reads_it(name, agrees):
    path = SAMPLES / f"{name}.jdx"
    content = load(path)
    assert recognises(content)
    dataset = read_jcamp(content, Choices())
    (array,) = dataset.data_vars.values()
    other = jcamp.readfile(path)
    values = other["y"] / 100 if "from % to 1" in dataset.attrs["history"] else other["y"]
    wavelengths = other["x"] if other["xunits"] == "NANOMETERS" else 1e7 / other["x"]
    if wavelengths[0] > wavelengths[-1]:
        values, wavelengths = values[::-1], wavelengths[::-1]
    assert array.size == other["npoints"]
    np.testing.assert_array_equal(array, values)
    np.testing.assert_allclose(dataset.wavelength, wavelengths, rtol=1e-12)
    source = f"jcamp.readfile {version('jcamp')}"
    agrees(f"{name}.jdx, mean of the ordinates", array.mean(), np.mean(values), source, 13, "package")
    agrees(f"{name}.jdx, last wavelength [nm]", array.wavelength[-1], wavelengths[-1], source, 12, "package")


def test_a_public_file_of_several_blocks():
    """Aquation of trans-[Co(en)2Cl2]+, five spectra from 700 nm down to 350 nm."""
    dataset = read_jcamp(load(SAMPLES / "jcamp_blckpac1.jdx"), Choices())
    others = jcamp.readfile(SAMPLES / "jcamp_blckpac1.jdx")["children"]
    assert dataset.absorbance.dims == ("spectrum", "wavelength")
    assert dataset.spectrum.values.tolist() == [
        f"Aquation of trans-[Co(en)2Cl2]+ (t{number})" for number in range(1, 6)
    ]
    assert dataset.wavelength.values[[0, -1]].tolist() == [350.0, 700.0]
    for array, other in zip(dataset.absorbance, others, strict=True):
        np.testing.assert_array_equal(array, other["y"][::-1])
    assert "##MAXY= says -0.006136, the table 0.193442106247" in dataset.attrs["warnings"]


def test_a_public_file_of_another_kind_is_refused_by_name():
    with pytest.raises(ReadError, match=r'line 3: found ##DATA TYPE= "MASS SPECTRUM"; expected a spectrum'):
        read_jcamp(load(SAMPLES / "jcamp_pktab2.jdx"), Choices())


def test_how_much_shorter_a_wavelength_is_in_air():
    """Peck and Reeder, J. Opt. Soc. Am. 62:958 (1972), as colour-science has it."""
    index = np.array([air_refraction_index_Peck1972(nm / 1000) for nm in (230, 365, 500, 1000, 1690)])
    shorter = 100 * (1 - 1 / index)  # %
    assert {f"{percent:.2f}" for percent in shorter} == {"0.03"}
    assert "about 0.03 % longer than in air" in IN_VACUUM
