"""IES TM-27: what is read, what is refused and in which words, what is written."""

import contextlib
import gzip
import json
import os
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from spectralbench.errors import BenchError, GridError, RangeError, ReadError, UnitsError
from spectralbench.model import check, labelled, spectrum
from spectralbench.readers.choices import Choices, checked
from spectralbench.readers.content import load
from spectralbench.readers.tm27 import read_tm27, recognises, write_tm27

SAMPLE = "tests/samples/tm27_led.spdx"
HEADER = {
    "Description": "invented",
    "DocumentCreator": "nobody",
    "DocumentCreationDate": "2026-03-02",
}
REQUIRED = "".join(f"<{name}>{text}</{name}>" for name, text in HEADER.items())
ROWS = '<SpectralData wavelength="365">1</SpectralData><SpectralData wavelength="366">2</SpectralData>'


def document(rows=ROWS, quantity="relative", header=REQUIRED, fields="", declaration='<?xml version="1.0"?>'):
    return (
        f'{declaration}\n<IESTM2714 xmlns="http://www.ies.org/iestm2714" version="1.0">\n'
        f"<Header>{header}</Header>\n"
        f"<SpectralDistribution><SpectralQuantity>{quantity}</SpectralQuantity>{fields}\n{rows}\n"
        "</SpectralDistribution>\n</IESTM2714>\n"
    )


def row(wavelength, value):
    return f'<SpectralData wavelength="{wavelength}">{value}</SpectralData>\n'


@pytest.fixture
def read(tmp_path):
    def from_text(content, **choices):
        path = tmp_path / "file.spdx"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        chosen = checked(Choices(**choices))
        loaded = load(path, chosen.encoding)
        assert recognises(loaded)
        return read_tm27(loaded, chosen)

    return from_text


@pytest.fixture
def refused(read):
    def faults(content, **choices):
        with pytest.raises(ReadError) as caught:
            read(content, **choices)
        for fault in caught.value.faults:
            assert fault.found
            assert fault.expected
        return caught.value.faults

    return faults


def warnings(dataset):
    return json.loads(dataset.attrs["warnings"])


def test_the_sample():
    dataset = check(read_tm27(load(SAMPLE), Choices()))
    irradiance = dataset["spectral_irradiance"]
    assert irradiance.attrs["units"] == "W m-2 nm-1"
    assert irradiance.attrs["long_name"] == "spectral irradiance"
    assert irradiance.attrs["bandwidth"] == 2.5
    assert dataset.wavelength.values[:3].tolist() == [340.0, 345.0, 350.0]
    assert dataset.wavelength.values[4] == 357.5
    assert irradiance.sel(wavelength=365.0) == 9.509
    assert dataset.attrs["format"] == "IES TM-27"
    header = json.loads(dataset.attrs["header"])
    assert header["DocumentCreator"] == "spectralbench & nobody else"
    assert header["SpectralQuantity"] == "irradiance"
    assert header["BandwidthCorrected"] == "false"
    assert warnings(dataset) == ["TM-27 states no unit: spectral irradiance was taken as W m-2 nm-1"]
    assert json.loads(dataset.attrs["decisions"])[1:] == [
        "layout: root IESTM2714, version 1.0",
        "wavelength: attribute of SpectralData, unit nm; 20 rows, 1 to 15 nm apart, kept as they are",
        'SpectralQuantity "irradiance": spectral_irradiance, unit "W m-2 nm-1"',
    ]


def test_gzip(tmp_path):
    path = tmp_path / "packed"
    path.write_bytes(gzip.compress(Path(SAMPLE).read_bytes()))
    xr.testing.assert_equal(read_tm27(load(path), Choices()), read_tm27(load(SAMPLE), Choices()))


@pytest.mark.parametrize(
    "text", ["wavelength,counts\n365,1\n", "<365,1\n", "365 < 366\n", "<a,b>\n1,2\n", "< a>\n"]
)
def test_what_is_no_xml(tmp_path, text):
    path = tmp_path / "file"
    path.write_text(text)
    assert not recognises(load(path))


@pytest.mark.parametrize(
    "text",
    ["<?xml version='1.0'?>\n", "\n <!-- a -->\n<b/>", "<!DOCTYPE a>", "<hall>\n</hall>\n", "<a:b/>"],
)
def test_what_is_xml(tmp_path, text):
    path = tmp_path / "file"
    path.write_text(text)
    assert recognises(load(path))


# What it holds


@pytest.mark.parametrize(
    ("word", "name", "units"),
    [
        ("irradiance", "spectral_irradiance", "W m-2 nm-1"),
        ("Irradiance", "spectral_irradiance", "W m-2 nm-1"),
        ("transmittance", "transmittance", "1"),
        ("reflectance", "reflectance", "1"),
    ],
)
def test_a_quantity_of_the_package(read, word, name, units):
    dataset = check(read(document(quantity=word)))
    assert dataset[name].attrs["units"] == units
    assert dataset[name].values.tolist() == [1.0, 2.0]


@pytest.mark.parametrize(
    "word",
    ["flux", "absorptance", "intensity", "radiance", "exitance", "R-Factor", "T-Factor", "relative", "other"],
)
def test_a_quantity_that_the_package_does_not_have(read, word):
    dataset = read(document(quantity=word))
    assert dataset["unlabelled"].attrs["long_name"] == word
    assert warnings(dataset) == [
        f'"{word}" is no quantity of this package: it is kept as unlabelled, and its unit is not known'
    ]


def test_a_word_that_nobody_knows(read):
    noted = warnings(read(document(quantity="brightness")))
    assert noted[0].startswith('"brightness" is no quantity of this package')
    assert noted[1].startswith('SpectralQuantity "brightness" is none of flux, absorptance, ')


def test_percent_needs_its_unit(read, refused):
    content = document(row(365, 50) + row(366, 91.5), "transmittance")
    (fault,) = refused(content)
    assert fault.found == "transmittance up to 91.5"
    assert fault.expected == "parts, not percent"
    assert fault.advice == 'Give the unit on reading: units="%"'
    assert fault.line == 4
    assert read(content, units="%")["transmittance"].values.tolist() == [0.5, 0.915]


def test_choices_stand_above_the_file(read):
    dataset = read(document(quantity="flux"), quantity="spectral_irradiance", units="mW/cm^2/nm")
    assert dataset["spectral_irradiance"].values.tolist() == pytest.approx([10.0, 20.0], rel=1e-15)
    assert 'the file holds "flux" and was read as spectral_irradiance' in warnings(dataset)
    assert dataset.attrs["history"].endswith("converted spectral irradiance from mW/cm^2/nm to W m-2 nm-1")
    dataset = read(document(quantity="other"), units="W m-2 nm-1")
    assert dataset["spectral_irradiance"].values.tolist() == [1.0, 2.0]
    dataset = read(document(quantity="flux"), units="W/nm")
    assert dataset["unlabelled"].attrs["units"] == "W/nm"
    assert warnings(dataset) == ['"flux" is no quantity of this package: it is kept as unlabelled']
    assert read(document(quantity="R-Factor"), units="%")["unlabelled"].values.tolist() == [0.01, 0.02]
    assert read(document(quantity="R-Factor"), units="1")["unlabelled"].values.tolist() == [1.0, 2.0]
    dataset = read(document(quantity="irradiance"), quantity="spectral_irradiance", units="W m-2 nm-1")
    assert warnings(dataset) == []


def test_a_unit_that_does_not_fit(refused):
    (fault,) = refused(document(quantity="irradiance"), units="nm")
    assert fault.found == 'the unit "nm" for spectral irradiance'
    assert fault.expected == 'a unit such as "W m-2 nm-1"'
    assert '"nm" cannot be converted' in fault.advice
    (fault,) = refused(document(row(365, "1e308") + row(366, 1), "irradiance"), units="MW/cm^2/nm")
    assert fault.found == "spectral irradiance beyond 1e308 W m-2 nm-1"


def test_bandwidth(read):
    def bandwidth(text):
        dataset = read(document(fields=f"<BandwidthFWHM>{text}</BandwidthFWHM>"))
        return dataset["unlabelled"].attrs.get("bandwidth"), warnings(dataset)[1:]

    assert bandwidth("2.0") == (2.0, [])
    assert bandwidth("None") == (None, [])
    for text in ("N/A", "0", "-2", "nan", "1e999", "2 nm"):
        assert bandwidth(text) == (
            None,
            [f'the bandwidth "{text}" is no number of nm above 0: it stays text'],
        )


def test_geometry(read):
    geometry = "<ReflectionGeometry>di:8</ReflectionGeometry>"
    dataset = read(document(quantity="reflectance", fields=geometry))
    assert json.loads(dataset.attrs["header"])["ReflectionGeometry"] == "di:8"
    assert warnings(dataset) == []
    without = "the file does not say with which geometry the transmittance was measured"
    assert warnings(read(document(quantity="transmittance", fields=geometry))) == [without]
    noted = warnings(read(document(fields=geometry.replace("di:8", "9:9"))))
    assert noted[1].startswith('ReflectionGeometry "9:9" is none of di:8, de:8, ')
    noted = warnings(read(document(fields="<BandwidthCorrected>maybe</BandwidthCorrected>")))
    assert noted[1] == 'BandwidthCorrected "maybe" is none of true, false'


def test_what_is_required_and_missing(read):
    noted = warnings(
        read(document(header="<Description></Description><DocumentCreator>None</DocumentCreator>"))
    )
    assert (
        "the file does not say what TM-27 requires: Description, DocumentCreator, DocumentCreationDate"
        in noted
    )
    rows = f"<IESTM2714 xmlns='iestm2714'><SpectralDistribution>{ROWS}</SpectralDistribution></IESTM2714>"
    noted = warnings(read(rows))
    assert noted[0].endswith("Description, DocumentCreator, DocumentCreationDate, SpectralQuantity")
    assert noted[1].startswith("the file does not say what it holds: it is kept as unlabelled")


def test_what_stands_beside_the_format(read):
    header = (
        f'{REQUIRED}<Operator>someone</Operator>text<x:Comments xmlns:x="y">a</x:Comments><SpectralQuantity/>'
    )
    more = ROWS.replace("365", "367").replace("366", "368").replace(">2<", ' scan="2">2<')
    rows = f"{ROWS}<Note/>{more}"
    content = document(rows, header=header).replace(
        "<SpectralDistribution>", "<Extra><a/></Extra><SpectralDistribution>"
    )
    dataset = read(content)
    noted = warnings(dataset)
    assert json.loads(dataset.attrs["header"])["Operator"] == "someone"
    assert noted == [
        'the field "Operator" is none of TM-27: it is kept in the header (line 3)',
        'the element "Comments" is none of TM-27: it was left out (line 3)',
        'the element "SpectralQuantity" is none of TM-27: it was left out (line 3)',
        'the text "text" outside of any field was left out (line 3)',
        'the element "Extra" is none of TM-27: it was left out (line 4)',
        'the element "Note" is none of TM-27: it was left out (line 5)',
        "further attributes of SpectralData were left out (line 5)",
        '"relative" is no quantity of this package: it is kept as unlabelled, and its unit is not known',
    ]
    deep = document(fields="<BandwidthFWHM>2<b>3</b></BandwidthFWHM>")
    assert warnings(read(deep))[0] == 'the element "b" is none of TM-27: it was left out (line 4)'


def test_many_strange_elements_are_cut_short(read):
    header = REQUIRED + "".join(f"<strange{number}/>" for number in range(500))
    dataset = read(document(header=header))
    assert warnings(dataset)[50] == "there is more to say of this file than is listed here"
    assert len(warnings(dataset)) < 60
    assert len(json.loads(dataset.attrs["header"])) < 60


def test_versions_and_namespaces(read):
    content = document()
    for change in (
        ("http://www.ies.org/iestm2714", "iestm2714"),
        ('version="1.0">', ">"),
        (
            '<?xml version="1.0"?>',
            '<?xml version="1.0"?><?xml-stylesheet type="text/xsl" href="TM-27-14.xsl"?>',
        ),
        ("<Header>", "<!-- a remark --><Header>"),
    ):
        assert len(warnings(read(content.replace(*change)))) == 1
    noted = warnings(
        read(content.replace("IESTM2714", "IESTM2720").replace('version="1.0">', 'version="2.0">'))
    )
    assert noted[0] == 'IESTM2720 of version "2.0" was read as IESTM2714 of version 1.0'
    noted = warnings(read(content.replace("http://www.ies.org/iestm2714", "other")))
    assert noted[0] == 'the namespace "other" is not that of TM-27'
    assert warnings(read(content.replace(' xmlns="http://www.ies.org/iestm2714"', "")))[0].startswith(
        "the namespace"
    )


# Rows


def test_a_grid_that_is_not_even_is_kept(read):
    dataset = read(document(row(400, 1) + row(403.1, 2) + row(405.5, 4) + row(405.6, 3)))
    assert dataset.wavelength.values.tolist() == [400, 403.1, 405.5, 405.6]


def test_descending_rows_are_turned_round(read):
    dataset = read(document(row(367, 1) + row(366, 2) + row(365, 3)))
    assert dataset.wavelength.values.tolist() == [365, 366, 367]
    assert dataset["unlabelled"].values.tolist() == [3, 2, 1]
    assert dataset.attrs["history"].endswith("sorted by ascending wavelength")


def test_exact_repeats_collapse(read):
    dataset = read(document(row(365, 1) + row(366, 2) + row("366.0", "2.00") + row(367, 3) + row(365, 1)))
    assert dataset["unlabelled"].values.tolist() == [1, 2, 3]
    assert "2 rows that repeat another exactly were left out (line 7)" in warnings(dataset)
    assert dataset.attrs["history"].endswith("left out 2 rows that repeat another exactly")
    dataset = read(document(row(365, 1) + row(366, 2) + row(366, 2)))
    assert "1 row that repeats another exactly was left out (line 7)" in warnings(dataset)


def test_contradictory_repeats_are_a_fault(refused):
    (fault,) = refused(document(row(365, 1) + row(366, 2) + row(366, 2.5) + row(367, 3)))
    assert fault.found == "366 nm a second time, with 2.5; in line 6 it is 2"
    assert fault.expected == "each wavelength once"
    assert (fault.line, fault.column) == (7, 1)


def test_rows_out_of_order(refused):
    (fault,) = refused(document(row(365, 1) + row(367, 2) + row(366, 3) + row(368, 4)))
    assert fault.found == "366 nm after 367 nm (line 6)"
    assert fault.expected == "wavelengths in one order, ascending as in the other rows"
    assert (fault.line, fault.column) == (7, 1)
    (fault,) = refused(document(row(368, 1) + row(366, 2) + row(367, 3) + row(365, 4)))
    assert fault.expected == "wavelengths in one order, descending as in the other rows"


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("0,034", "Write the decimal sign as a point"),
        ("1 000", "Write it with digits, a decimal point and an exponent such as 1e-5"),
        ("1_000", "Write it with digits"),
        ("٣", "Write it with digits"),
        ("0x10", "Write it with digits"),
        ("1e999", "Write it with digits"),
        ("1" * 400, "Write it with digits"),
        *(
            (word, "A value is missing here: save the spectrum as plain text, with invalid in")
            for word in ("", "NaN", "INF", "-INF", "N/A", "---")
        ),
    ],
)
def test_a_value_that_is_no_number(refused, text, advice):
    (fault,) = refused(document(row(365, 1) + row(366, text) + row(367, 2)))
    assert fault.found == (
        (f'"{text}"' if len(text) < 40 else '"111111111111111111111111111111111111111…"')
        if text
        else "nothing"
    )
    assert fault.expected == "a number, such as 0.034"
    assert fault.advice.startswith(advice)
    assert (fault.line, fault.column) == (6, 1)


@pytest.mark.parametrize(
    ("start", "found", "expected"),
    [
        ('<SpectralData wavelength="blue">', '"blue"', "a wavelength in nm, such as 400.0"),
        ('<SpectralData wavelength="">', "nothing", "a wavelength in nm, such as 400.0"),
        ('<SpectralData wavelength="-5">', "wavelength -5 nm", "one above 0 and up to 1e+06 nm"),
        ('<SpectralData wavelength="0">', "wavelength 0 nm", "one above 0 and up to 1e+06 nm"),
        ('<SpectralData wavelength="2e6">', "wavelength 2e+06 nm", "one above 0 and up to 1e+06 nm"),
        ("<SpectralData>", "a SpectralData without a wavelength", "the attribute wavelength"),
        (
            '<SpectralData Wavelength="366">',
            "a SpectralData without a wavelength",
            "the attribute wavelength",
        ),
    ],
)
def test_a_wavelength_that_is_none(refused, start, found, expected):
    (fault,) = refused(document(f"{row(365, 1)}  {start}2</SpectralData>\n{row(367, 2)}"))
    assert (fault.found, fault.expected) == (found, expected)
    assert (fault.line, fault.column) == (6, 3)


@pytest.mark.parametrize(
    ("rows", "count"), [("", "0 rows"), (row(365, 1), "1 row"), (row(365, 1) * 2, "1 row")]
)
def test_too_few_rows(refused, rows, count):
    (fault,) = refused(document(rows))
    assert fault.found == f"{count} of SpectralData"
    assert fault.expected == "two rows or more"


def test_all_faults_come_together(refused):
    content = document(
        row("x", 1) + row(366, "y") + row(367, 1) + row(367, 2) + row(369, 1) + row(368, 1),
        header=REQUIRED + "<Description>again</Description>",
    )
    faults = refused(content.replace("</IESTM2714>", "<Header/></IESTM2714>"))
    assert [(fault.line, fault.found) for fault in faults] == [
        (3, "a second Description; the first stands in line 3"),
        (5, '"x"'),
        (6, '"y"'),
        (8, "367 nm a second time, with 2; in line 7 it is 1"),
        (10, "368 nm after 369 nm (line 9)"),
        (13, "a second Header; the first stands in line 3"),
    ]


def test_faults_before_the_file_breaks_off_are_told_too(refused):
    faults = refused(document(row(365, "x") + row(366, 1)).partition("</SpectralDistribution>")[0])
    assert [fault.line for fault in faults] == [5, 8]
    assert faults[1].found == "XML that is not well formed: no element found"


def test_several_spectra_in_a_file(refused):
    content = document()
    second = content[content.index("<SpectralDistribution>") : content.index("</IESTM2714>")]
    faults = refused(content.replace("</IESTM2714>", f"{second}</IESTM2714>"))
    assert faults[-2].found == "a second SpectralDistribution; the first stands in line 4"
    assert faults[-2].expected == "one spectrum in a file"
    assert faults[-2].advice == "Put each spectrum into a file of its own"
    assert faults[-2].line == 7


def test_a_hint_at_micrometres(read):
    assert "the wavelengths end at 0.366 nm: are they in µm?" in warnings(
        read(document(row(0.365, 1) + row(0.366, 2)))
    )


# Safety


@pytest.mark.parametrize("root", ["item", "svg", "LuminaireOpticalData", "IESTM27", "iestm2714"])
def test_another_root_is_refused_by_its_name(refused, root):
    (fault,) = refused(f"<{root}>\n</{root}>")
    assert fault.found == f'XML with the root "{root}"'
    assert fault.expected == "the root IESTM2714"
    assert fault.line == 1


LAUGHS = '<!ENTITY a "ha">' + "".join(
    f'<!ENTITY {after} "{f"&{before};" * 10}">' for before, after in zip("abcdefgh", "bcdefghi", strict=True)
)


@pytest.mark.parametrize(
    "doctype",
    [
        "<!DOCTYPE svg>",
        f"<!DOCTYPE IESTM2714 [{LAUGHS}]>",
        f'<!DOCTYPE IESTM2714 [<!ENTITY a "{"x" * 50_000}">]>',
        '<!DOCTYPE IESTM2714 [<!ENTITY a SYSTEM "file:///etc/passwd">]>',
        '<!DOCTYPE IESTM2714 [<!ENTITY % a SYSTEM "file:///etc/passwd"> %a;]>',
        '<!DOCTYPE IESTM2714 SYSTEM "other.dtd">',
        '<!DOCTYPE IESTM2714 PUBLIC "a" "other.dtd">',
    ],
)
def test_a_document_type_is_refused(refused, doctype):
    (fault,) = refused(document(row(365, "&a;")).replace("?>", f"?>\n  {doctype}", 1))
    assert fault.found == "a document type declaration (<!DOCTYPE)"
    assert "such a file could make a reader open others" in fault.advice
    assert fault.line == 2


def test_inclusions_and_entities(refused):
    inclusion = '<x:include xmlns:x="http://www.w3.org/2001/XInclude" href="/etc/passwd" parse="text"/>'
    (fault,) = refused(document(row(365, 1) + inclusion))
    assert fault.found == "an inclusion of another file (XInclude)"
    assert (fault.line, fault.column) == (6, 1)
    (fault,) = refused(document(row(365, "&a;")))
    assert fault.found == "XML that is not well formed: undefined entity"
    assert (fault.line, fault.column) == (5, 32)


@pytest.mark.parametrize(
    ("content", "found"),
    [
        (document(header="<a>" * 9 + "</a>" * 9), "elements more than 8 deep"),
        ("<IESTM2714>" * 40_000, "elements more than 8 deep"),
        (document("<SpectralData/>" * 50_001), "more than 50000 elements"),
        (document("<!-- -->" * 150_001), "150016 tags"),
        (document("x" * 70_000), "more than 65536 characters between two tags"),
        (document(header=f"<a b='{'x' * 2_000}'/>"), "an attribute of 2000 characters"),
        (document(header=f"<{'a' * 300}/>"), "an element with a name of 300 characters"),
        (
            document(header="<a " + " ".join(f"b{n}=''" for n in range(20)) + "/>"),
            "an element with 20 attributes",
        ),
        (document(f"<!-- {'x' * 60_000} -->" * 150), "9 million characters of XML"),
    ],
)
def test_limits(refused, content, found):
    assert refused(content)[-1].found == found


@pytest.mark.parametrize(
    ("content", "reason", "line", "column"),
    [
        (document().replace("</Header>", "</Heater>"), "mismatched tag", 3, None),
        (document()[:-30], "unclosed token", None, None),
        (document() + "more", "junk after document element", 8, 1),
        (document(row(365, "a & b")), "not well-formed (invalid token)", 5, None),
        (document(header="<a b='1' b='2'/>"), "duplicate attribute", 3, None),
        (document(header="<x:a/>"), "unbound prefix", 3, None),
        (document("\x01"), "not well-formed (invalid token)", 5, 1),
        ("<?xml version='1.0'?>", "no element found", 1, None),
    ],
)
def test_what_is_not_well_formed(refused, content, reason, line, column):
    fault = refused(content)[-1]
    assert fault.found == f"XML that is not well formed: {reason}"
    assert fault.expected == "well-formed XML"
    assert fault.line == line or line is None
    assert fault.column == column or column is None


# Encodings


def described(encoding):
    return document(
        header=REQUIRED.replace("invented", "größe"),
        declaration=f'<?xml version="1.0" encoding="{encoding}"?>',
    )


@pytest.mark.parametrize(
    ("stated", "codec"),
    [
        ("UTF-8", "utf-8"),
        ("utf-8", "utf-8-sig"),
        ("ISO-8859-1", "latin-1"),
        ("windows-1252", "cp1252"),
        ("ISO-8859-15", "iso8859-15"),
        ("UTF-16", "utf-16"),
        ("UTF-32", "utf-32"),
    ],
)
def test_an_encoding_that_is_as_stated(read, stated, codec):
    assert json.loads(read(described(stated).encode(codec)).attrs["header"])["Description"] == "größe"


def test_no_encoding_stated(read):
    content = document(header=REQUIRED.replace("invented", "größe"))
    for codec in ("utf-8", "utf-8-sig", "utf-16"):
        assert json.loads(read(content.encode(codec)).attrs["header"])["Description"] == "größe"


def test_the_caller_says_the_encoding(read):
    content = described("UTF-8").replace("größe", "größe €").encode("cp1252")
    assert json.loads(read(content, encoding="cp1252").attrs["header"])["Description"] == "größe €"


@pytest.mark.parametrize(
    ("content", "found", "expected"),
    [
        (described("UTF-16").encode(), "text in UTF-8", "UTF-16, as the file states"),
        (described("UTF-32").encode("latin-1"), "text in Latin-1", "UTF-32, as the file states"),
        (
            described("UTF-8").encode("utf-16"),
            "text in UTF-16 with a byte order mark",
            "UTF-8, as the file states",
        ),
        (
            described("ISO-8859-1").encode("utf-8-sig"),
            "text in UTF-8 with a byte order mark",
            "ISO-8859-1, as the file",
        ),
        (
            described("UTF-8").encode("latin-1"),
            "bytes that are no UTF-8 (at byte {at})",
            "UTF-8, as the file states",
        ),
        (
            described("US-ASCII").encode(),
            "bytes that are no US-ASCII (at byte {at})",
            "US-ASCII, as the file states",
        ),
        (
            described("Shift_JIS").encode(),
            'the encoding "Shift_JIS"',
            "UTF-8, UTF-16 with a byte order mark, or one",
        ),
        (described("UTF-7").encode(), 'the encoding "UTF-7"', "UTF-8, UTF-16 with"),
        (described("nothing").encode(), 'the encoding "nothing"', "UTF-8, UTF-16 with"),
        (
            document(header=REQUIRED.replace("invented", "größe")).encode("latin-1"),
            "bytes that are no UTF-8 (at byte {at})",
            "UTF-8, as XML is that states no encoding",
        ),
    ],
)
def test_an_encoding_that_lies(refused, content, found, expected):
    (fault,) = refused(content)
    first = next((at for at, byte in enumerate(content) if byte > 127), None)
    assert fault.found == found.format(at=first)
    assert fault.expected.startswith(expected)
    assert fault.advice == "Save the file again as UTF-8, or choose the encoding on reading"
    assert fault.line == 1


# Writing


def test_what_is_written(tmp_path):
    path = tmp_path / "led.spdx"
    array = spectrum([1.0, 0.1 + 0.2], [365.0, 403.1], "spectral_irradiance").assign_attrs(bandwidth=2.5)
    write_tm27(path, array, {**HEADER, "Comments": "a < b & c\nd", "BandwidthCorrected": "true"})
    assert path.read_text(encoding="utf-8") == (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<IESTM2714 xmlns="http://www.ies.org/iestm2714" version="1.0">\n'
        "\t<Header>\n"
        "\t\t<Description>invented</Description>\n"
        "\t\t<DocumentCreator>nobody</DocumentCreator>\n"
        "\t\t<DocumentCreationDate>2026-03-02</DocumentCreationDate>\n"
        "\t\t<Comments>a &lt; b &amp; c\nd</Comments>\n"
        "\t</Header>\n"
        "\t<SpectralDistribution>\n"
        "\t\t<SpectralQuantity>irradiance</SpectralQuantity>\n"
        "\t\t<BandwidthFWHM>2.5</BandwidthFWHM>\n"
        "\t\t<BandwidthCorrected>true</BandwidthCorrected>\n"
        '\t\t<SpectralData wavelength="365.0">1.0</SpectralData>\n'
        '\t\t<SpectralData wavelength="403.1">0.30000000000000004</SpectralData>\n'
        "\t</SpectralDistribution>\n"
        "</IESTM2714>\n"
    )


def test_what_was_read_is_written_as_it_was(tmp_path):
    dataset = read_tm27(load(SAMPLE), Choices())
    write_tm27(tmp_path / "again.spdx", dataset["spectral_irradiance"], json.loads(dataset.attrs["header"]))
    again = read_tm27(load(tmp_path / "again.spdx"), Choices())
    xr.testing.assert_equal(again, dataset)
    assert json.loads(again.attrs["header"]) == json.loads(dataset.attrs["header"])


def test_a_descending_spectrum_is_turned_round(tmp_path):
    write_tm27(tmp_path / "a.spdx", spectrum([2.0, 1.0], [366.0, 365.0], "reflectance"), HEADER)
    assert read_tm27(load(tmp_path / "a.spdx"), Choices())["reflectance"].values.tolist() == [1.0, 2.0]


def whole():
    return spectrum([1.0, 2.0], [365.0, 366.0], "transmittance")


@pytest.mark.parametrize(
    ("array", "header", "found"),
    [
        (
            whole(),
            {},
            "Description, DocumentCreator, DocumentCreationDate: required by TM-27 and not in the header",
        ),
        (whole(), HEADER | {"Description": ""}, "Description: required by TM-27"),
        (
            whole(),
            HEADER | {"Operator": "a", "lamp\n": "b"},
            "Operator, lamp\\n: no field of TM-27, which has Manuf",
        ),
        (
            whole(),
            HEADER | {"Comments": " a"},
            'Comments " a" would not read back the same: a field is text of at',
        ),
        (whole(), HEADER | {"Comments": "a\0"}, 'Comments "a\\x00" would not read back the same'),
        (whole(), HEADER | {"Comments": "a\rb"}, 'Comments "a\\rb" would not read back the same'),
        (whole(), HEADER | {"Comments": "a\ud800b"}, "would not read back the same"),
        (whole(), HEADER | {"Comments": "a" * 20_000}, "would not read back the same"),
        (whole(), HEADER | {"Comments": 5}, 'Comments "5" would not read back the same'),
        (
            whole(),
            HEADER | {"Comments": "None"},
            'Comments "None" would read back as a field that is not there',
        ),
        (
            whole(),
            HEADER | {"SpectralQuantity": "flux"},
            'the header calls transmittance "flux"; expected "transmit',
        ),
        (whole(), HEADER | {"ReflectionGeometry": "9"}, 'ReflectionGeometry "9" is none of di:8, '),
        (whole().assign_attrs(units="%"), HEADER, 'transmittance is in "%"; convert it to "1" first'),
        (
            whole().assign_attrs(bandwidth=-1.0),
            HEADER,
            'the spectrum has the bandwidth "-1.0", the header "-1.0"',
        ),
        (whole().assign_attrs(bandwidth="a"), HEADER, 'the spectrum has the bandwidth "a", the header ""'),
        (
            whole().assign_attrs(bandwidth=1.0),
            HEADER | {"BandwidthFWHM": "2"},
            'bandwidth "1.0", the header "2"',
        ),
        (
            whole().rename("absorbance"),
            HEADER,
            'TM-27 has no word for "absorbance": give SpectralQuantity (one of',
        ),
        (whole().rename(None), HEADER, 'TM-27 has no word for "None": give SpectralQuantity'),
        (whole().rename("a"), HEADER | {"SpectralQuantity": "b"}, 'SpectralQuantity "b" is none of flux, '),
        (whole() * np.nan, HEADER, "there are values that are no finite numbers: take them out"),
        (whole().astype(str), HEADER, "there are values that are no finite numbers"),
        (whole().astype(int) * 2**60, HEADER, "there are whole numbers beyond 2^53"),
        (
            whole().expand_dims(spectrum=2),
            HEADER,
            "the spectrum has the dimensions ('spectrum', 'wavelength')",
        ),
        (whole()[:1], HEADER, "a file holds 2 to 45000 wavelengths, all above 0 and up to 1e6 nm"),
        (
            whole().assign_coords(wavelength=[-1.0, 1.0]),
            HEADER,
            "a file holds 2 to 45000 wavelengths, all above 0",
        ),
    ],
)
def test_what_cannot_be_written(tmp_path, array, header, found):
    with pytest.raises(RangeError) as caught:
        write_tm27(tmp_path / "a.spdx", array.rename(array.name or None), header)
    assert str(caught.value).startswith("the spectrum cannot be written as TM-27: ")
    assert found in str(caught.value)
    assert not list(tmp_path.iterdir())


def test_all_that_cannot_be_written_comes_together(tmp_path):
    with pytest.raises(RangeError, match=r"Operator: no field.*DocumentCreationDate: required.*no finite"):
        write_tm27(tmp_path / "a.spdx", whole() * np.inf, {"Operator": "a", "Description": "b"})


def test_a_dataset_of_one_quantity_is_written_as_it_was_read(tmp_path):
    path = tmp_path / "a.spdx"
    dataset = whole().to_dataset()
    write_tm27(path, dataset, HEADER)
    again = load(path)
    xr.testing.assert_equal(read_tm27(again, Choices())["transmittance"], dataset["transmittance"])
    write_tm27(tmp_path / "b.spdx", read_tm27(again, Choices()), HEADER)
    assert (tmp_path / "b.spdx").read_bytes() == path.read_bytes()


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (
            xr.Dataset({"counts": whole(), "absorbance": whole()}),
            r'holds "counts", "absorbance": a file of TM-27 holds one quantity; choose one, such as '
            r'dataset\["counts"\]',
        ),
        (xr.Dataset(), "the dataset is empty: a file of TM-27 holds one quantity$"),
        (whole().values, r"the spectrum is a ndarray; expected an xarray\.DataArray, or an"),
        (xr.DataTree(), "the spectrum is a DataTree; expected"),
    ],
)
def test_what_is_not_one_spectrum(tmp_path, given, words):
    with pytest.raises(RangeError, match=words):
        write_tm27(tmp_path / "a.spdx", given, HEADER)
    assert not list(tmp_path.iterdir())


def test_wavelengths_out_of_order_cannot_be_written(tmp_path):
    array = labelled([1.0, 2.0, 3.0], "transmittance", ("wavelength",), {"wavelength": [1.0, 3.0, 2.0]})
    with pytest.raises(GridError, match="wavelengths out of order"):
        write_tm27(tmp_path / "a.spdx", array, HEADER)


def test_a_file_stays_if_writing_fails(tmp_path, monkeypatch):
    path = tmp_path / "a.spdx"
    path.write_text("mine")

    def fail(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(BenchError, match="found No space left on device; expected a place that can be"):
        write_tm27(path, whole(), HEADER)
    assert path.read_text() == "mine"
    assert list(tmp_path.iterdir()) == [path]


def test_a_unit_that_is_none(read):
    with pytest.raises(UnitsError, match="is not a unit of measurement"):
        read(document(), units="bananas")


# Laws

finite = st.floats(allow_nan=False, allow_infinity=False)
texts = st.text(st.characters(codec="utf-8", exclude_categories=["Cc"]), max_size=30).filter(
    lambda text: text == text.strip() and text != "None" and not set(text) & {"\ufffe", "\uffff"}
)
filled = texts.filter(bool)
headers = st.fixed_dictionaries(
    dict.fromkeys(HEADER, filled),
    optional={
        **dict.fromkeys(("Manufacturer", "UniqueIdentifier", "MeasurementEquipment", "Comments"), texts),
        "BandwidthFWHM": st.floats(1e-3, 100).map(repr),
        "BandwidthCorrected": st.sampled_from(["true", "false"]),
        "ReflectionGeometry": st.sampled_from(["di:8", "45x:0", "other"]),
    },
)
every = settings(max_examples=100, suppress_health_check=[HealthCheck.function_scoped_fixture])


@every
@given(
    rows=st.dictionaries(st.floats(1e-6, 1e6), finite, min_size=2, max_size=12),
    word=st.sampled_from(["irradiance", "flux", "relative", "other"]),
    header=headers,
)
def test_what_is_written_reads_back_bit_for_bit(tmp_path, rows, word, header):
    grid = sorted(rows)
    name = "spectral_irradiance" if word == "irradiance" else "unlabelled"
    array = xr.DataArray([rows[at] for at in grid], {"wavelength": grid}, "wavelength", name)
    header = {**header, "SpectralQuantity": word}
    write_tm27(tmp_path / "a.spdx", array, header)
    dataset = read_tm27(load(tmp_path / "a.spdx"), Choices())
    assert list(map(repr, dataset[name].values.tolist())) == [repr(rows[at]) for at in grid]
    assert dataset.wavelength.values.tolist() == grid
    assert json.loads(dataset.attrs["header"]) == header


parts = st.sampled_from(
    [
        *("<", ">", "/", '"', "&", "&lt;", "]]>", "<![CDATA[", "<!--", "-->", "<?", "?>", "<!DOCTYPE a ["),
        *("SpectralData", "wavelength=", "Header", "IESTM2714", "xmlns:", "1e308", "NaN", "0", "e", "-", ","),
        *("\n", "\0", "é", "\ud800"),
    ]
)


@settings(every, max_examples=300)
@given(data=st.data())
def test_a_spoilt_file_is_read_or_refused(tmp_path, data):
    """By mutation of the sample: pieces cut out, doubled, put in."""
    text = Path(SAMPLE).read_text(encoding="utf-8")
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(start, min(len(text), start + 40)))
        text = (
            text[:start] + data.draw(st.one_of(parts, st.just(text[start:end] * 2), st.just(""))) + text[end:]
        )
    path = tmp_path / "spoilt.spdx"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    with contextlib.suppress(ReadError):
        loaded = load(path)
        if recognises(loaded):
            check(read_tm27(loaded, Choices()))
