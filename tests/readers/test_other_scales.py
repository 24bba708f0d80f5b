"""What stands above or beside a table is never passed over where it speaks against wavelengths.

The headings are such as programs and people write; they were found by reading public files.
"""

import json

import pytest

from spectralbench.errors import ReadError
from spectralbench.readers import read

ROWS = [(22_000.0, 0.1), (23_000.0, 0.2), (24_000.0, 0.3), (25_000.0, 0.4)]


def table(head, between, rows=ROWS, times=1):
    lines = [between.join([f"{x:g}", *[f"{y:g}"] * times]) for x, y in rows]
    return "\n".join([head, *lines, ""])


@pytest.mark.parametrize(
    ("head", "between", "times", "advice"),
    [
        ("wavenumber [cm-1],1,2,3", ",", 3, "A wavenumber is no wavelength"),
        ("Wavenumber (1/cm);1;ref", ";", 2, "A wavenumber is no wavelength"),
        ("Raman shift (cm-1),1,2", ",", 2, "A shift is no wavelength"),
        ("Wavenumber (cm-1)   Absorbance (a.u.)", " ", 1, "A wavenumber is no wavelength"),
        ("# Wavenumber [cm^-1]   Absorbance", " ", 1, "A wavenumber is no wavelength"),
        ("# wavenumber_cm-1 absorbance", " ", 1, "A wavenumber is no wavelength"),
        ("# wavenumber_cm-1 absorbance", "\t", 1, "A wavenumber is no wavelength"),
        ("Raman shift (cm-1) Intensity (a.u.)", " ", 1, "A shift is no wavelength"),
        ("# energy(eV) k", " ", 1, "A photon energy is no wavelength"),
        ("# frequency_THz absorbance", " ", 1, "A frequency is no wavelength"),
        ("pixel counts", " ", 1, "Add the wavelength as a column"),
        ("m/z,intensity", ",", 1, "choose the axis on reading"),
        ("2theta counts", " ", 1, "choose the axis on reading"),
        ("cm-1,Absorbance", ",", 1, "A wavenumber is no wavelength"),
        ("1/cm;A", ";", 1, "A wavenumber is no wavelength"),
        ("wn,%T", ",", 1, "A wavenumber is no wavelength"),
        ("eV,Abs", ",", 1, "A photon energy is no wavelength"),
        ("THz,Abs", ",", 1, "A frequency is no wavelength"),
        ("frequency,Absorbance\ncm-1,", ",", 1, "A wavenumber is no wavelength"),
        ("min,Absorbance", ",", 1, "name the column such as time [s]"),
        ("Retention time (min),Absorbance", ",", 1, "name the column such as time [s]"),
        ("Item no.,Price", ",", 1, "Add the wavelength as a column"),
        ("# axis: wavenumber (cm-1)", " ", 1, "A wavenumber is no wavelength"),
        ("# xunits = 1/cm", " ", 1, "A wavenumber is no wavelength"),
    ],
)
def test_another_scale_is_refused_however_it_is_written(file, head, between, times, advice):
    with pytest.raises(ReadError, match="expected wavelength") as caught:
        read(file(table(head, between, times=times)))
    assert advice in str(caught.value)


@pytest.mark.parametrize(
    "head",
    [
        "# offset corrected",
        "# shift the sample by hand",
        "Measured with the lab spectrometer at room temperature",
        "The energy of the lamp was 5 mJ",
        "Slit (mm): 1",
        "# X: 1 m",
        "# axis = optical axis",
        "# lamp energy 5 mJ in each pulse, dark offset subtracted",
        "# Sample A",
        "# energy: 5 mJ",
        "Energy [mJ] 5.2",
        "# a frequency of 50 Hz was filtered out",
        "# ------ ------",
    ],
)
def test_words_of_a_note_are_no_heading(file, head):
    dataset = read(file(table(head, " ", [(365.0, 1.0), (366.0, 2.0)])))
    assert dataset.wavelength.values.tolist() == [365.0, 366.0]


@pytest.mark.parametrize("between", [",", ";", "\t"])
@pytest.mark.parametrize(
    "head",
    [
        *(
            "Frequency: 50 Hz",
            "Temperature: 25 C",
            "Energy: 12 mJ",
            "Offset: 12",
            "Mass: 3 g",
            "Rate (Hz): 10",
        ),
        *("# shift the sample by hand", "# offset corrected", "Comment: no shift", "File: shift_scan.csv"),
        *(
            "The energy of the lamp was 5 mJ",
            "C:\\data\\angle 8\\s.csv",
            "Frequency [Hz]{}50",
            "Path [mm]{}10",
        ),
        *(
            "Laser energy [eV]{}3.4",
            "Intensity (cps)",
            "Temperature{}room",
            "Time [s]{}100",
            "hours [h]{}900",
        ),
        *("Wavelength (nm){}405\nIntegration time (ms){}100", "x unit{}nm\ny unit{}counts"),
    ],
)
def test_keys_and_prose_above_a_table_are_no_heading(file, head, between):
    text = table(head.replace("{}", between), between, [(350.0, 200.0), (351.0, 201.0)])
    assert read(file(text)).wavelength.values.tolist() == [350.0, 351.0]


@pytest.mark.parametrize(
    "head",
    [
        "hours,UV A,UV B\nwavelength [nm],365,405",
        "wavelength [nm],S1,S2,S3\nTime [s],0,10,20",
        "Time [s],0,10,20",
        "hours,900,1200,400",
        "Time (min),0,10,20\nnm,,,",
    ],
)
def test_a_row_of_labels_never_makes_another_axis(file, head):
    """What stands along the columns of spectra: times, hours of use, or a head's wavelengths."""
    times = head.split("\n")[0].count(",")
    text = table(head, ",", [(350.0, 1.0), (351.0, 2.0)], times)
    try:
        dataset = read(file(text))
    except ReadError:
        return
    kind = "hours" if head.startswith("hours,UV") else "wavelength"
    assert dataset[kind].values.tolist() == [350.0, 351.0]


def test_who_says_that_it_is_a_wavelength_is_believed(file):
    text = table("# energy(eV) k", " ", [(2.0, 1.0), (2.5, 2.0)])
    dataset = read(file(text), axis="wavelength", axis_units="µm")
    assert dataset.wavelength.values.tolist() == [2000.0, 2500.0]


@pytest.mark.parametrize(
    ("head", "rows", "name", "expected"),
    [
        ("wavelength [Angstrom],1,2", [(1900.0, 1.0), (2600.0, 2.0)], "wavelength", [190.0, 260.0]),
        ("wavelength [nm],1,2", [(4000.0, 1.0), (4700.0, 2.0)], "wavelength", [4000.0, 4700.0]),
        ("wavelength [µm],1,2", [(2.0, 1.0), (25.0, 2.0)], "wavelength", [2000.0, 25_000.0]),
        ("Time (s),365,405", [(0.5, 1.0), (4.0, 2.0)], "time", [0.5, 4.0]),
        ("wavelength [nm],2026-03-02,2026-03-03", [(400.0, 1.0), (410.0, 2.0)], "wavelength", [400.0, 410.0]),
    ],
)
def test_numbers_name_columns_as_well(file, head, rows, name, expected):
    """A number among the names made the whole heading vanish, with the axis and the unit that it states."""
    dataset = read(file(table(head, ",", rows, times=2)))
    assert dataset[name].values.tolist() == expected
    labels = dataset["unlabelled"].dims[0]
    assert [str(label) for label in dataset[labels].values] == head.split(",")[1:]


def test_a_word_and_a_number_are_a_key_with_its_value(file):
    dataset = read(file("integration time [ms],20\nwavelength,405\n365,1\n366,2\n"))
    assert dataset.wavelength.values.tolist() == [365.0, 366.0]
    assert json.loads(dataset.attrs["header"])["wavelength"] == "405"


@pytest.mark.parametrize(
    ("head", "rows"),
    [
        ("Waveleng (mic) n", [(0.3, 1.3), (30.0, 1.4)]),
        ("wavelength,n", [(0.3, 1.3), (30.0, 1.4)]),
        ("wavelength,n", [(2e-9, 1.3), (3e-9, 1.4)]),
    ],
)
def test_wavelengths_that_could_be_in_no_unit_are_refused(file, head, rows):
    with pytest.raises(ReadError, match="without a unit; expected their unit") as caught:
        read(file(table(head, "," if "," in head else " ", rows)))
    assert "choose the axis_units on reading" in str(caught.value)


def test_metres_without_a_unit_are_metres(file):
    dataset = read(file(table("wavelength,transmittance", ",", [(3e-7, 0.1), (8e-7, 0.9)])))
    assert dataset.wavelength.values.tolist() == [300.0, 800.0]
    assert "taken as m, because it runs from 3e-07 to 8e-07" in dataset.attrs["warnings"]


@pytest.mark.parametrize(
    "text",
    [
        "400,401,402,403\n0.1,0.2,0.3,0.4\n",
        "id,400,401,402,403\n10,1,2,3,4\n20,1,2,3,4\n30,1,2,3,4\n",
        "wavelength,365,385,405,436\n" + "".join(f"{k},1,2,3,4\n" for k in range(1, 9)),
        "nm;365;385;405;436\n1;1;2;3;4\n2;1;2;3;4\n",
        "sample,400,401,402,403\n1,5,6,7,8\n2,5,6,7,8\n3,5,6,7,8\n",
    ],
)
def test_a_table_that_runs_across_is_refused(file, text):
    with pytest.raises(ReadError, match=r"a table that runs across .* Turn the table"):
        read(file(text))


@pytest.mark.parametrize(
    "text",
    [
        "wavelength [nm],1,2,3\n365,1,2,3\n366,1,2,3\n",
        "wavelength [nm],400,401,402\n365,1,2,3\n366,1,2,3\n367,1,2,3\n368,1,2,3\n",
        "time [s],365,385,405,436\n0,1,2,3,4\n1,1,2,3,4\n",
        "Wavelength (nm),250,260,270,280\n300,1,2,3,4\n301,1,2,3,4\n",
        "wavelength [nm],run 1,run 2,run 3\n365,410,420,431\n405,410,420,431\n436,410,420,431\n",
        "wavelength [nm];0 h;500 h;1000 h;1500 h\n365;900;850;800;750\n405;910;860;810;760\n",
    ],
)
def test_a_table_with_more_columns_than_rows_may_be_one(file, text):
    """Scans that are counted; a matrix of excitation and emission; a log of several bands."""
    assert read(file(text)).sizes
