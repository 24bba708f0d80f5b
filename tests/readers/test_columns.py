"""Columns side by side: replicates, logarithms and uncertainties."""

import json

import numpy as np
import pytest

from spectralbench.errors import quote
from spectralbench.readers import read


@pytest.mark.parametrize(
    ("text", "labels"),
    [
        ("wavelength,counts.1,counts.2\n365,1,2\n366,3,4\n", [1, 2]),
        ("wavelength,counts1,counts2\n365,1,2\n366,3,4\n", [1, 2]),
        ("wavelength,counts (7),counts (8)\n365,1,2\n366,3,4\n", [7, 8]),
        ("wavelength,counts,counts.1\n365,1,2\n366,3,4\n", [1, 2]),
        ("wavelength,lamp A counts,lamp B counts\n365,1,2\n366,3,4\n", ["lamp A", "lamp B"]),
        (",A,B\nwavelength,counts,counts\n365,1,2\n366,3,4\n", ["A", "B"]),
        ("sample,A,B\nwavelength,counts,counts\n365,1,2\n366,3,4\n", ["A", "B"]),
        ("wavelength,counts,counts\n,A,B\n365,1,2\n366,3,4\n", ["A", "B"]),
        ("wavelength,counts,counts\nscan,7,8\n365,1,2\n366,3,4\n", [7, 8]),
        (
            "wavelength;counts;counts\nnm;;\n;2026-03-02;2026-03-03\n365;1;2\n366;3;4\n",
            ["2026-03-02", "2026-03-03"],
        ),
        ("wavelength,A,wavelength,B\n365,1,365,2\n366,3,366,4\n", ["A", "B"]),
    ],
)
def test_replicates(file, text, labels):
    dataset = read(file(text), quantity="counts")
    assert dataset.counts.values.tolist() == [[1, 3], [2, 4]]
    assert dataset.spectrum.values.tolist() == labels


@pytest.mark.parametrize(
    ("head", "quantity", "values"),
    [
        ("log10(counts)", "counts", [10, 100]),
        ("Log10(counts) [1]", "counts", [10, 100]),
        ("lg T [%]", "transmittance", [0.1, 1]),
        ("T [log10(%)]", "transmittance", [0.1, 1]),
        ("log ε / (L mol-1 cm-1)", "molar_absorption_coefficient", [10, 100]),
        ("log10 spectral irradiance [mW/m²/nm]", "spectral_irradiance", [0.01, 0.1]),
        ("lg(E / (mW/m²/nm))", "spectral_irradiance", [0.01, 0.1]),
        ("ln(counts)", "counts", [np.e, np.e**2]),
        ("lg(I)", "unlabelled", [10, 100]),
        ("-log10(T)", "absorbance", [1, 2]),
        ("log(1/T)", "absorbance", [1, 2]),
        ("log 3", "unlabelled", [1, 2]),  # the third log, for all we know
    ],
)
def test_logarithms(file, head, quantity, values):
    dataset = read(file(f"wavelength [nm]\t{head}\n365\t1\n366\t2\n"))
    assert list(dataset.data_vars) == [quantity]
    np.testing.assert_allclose(dataset[quantity], values, rtol=1e-14)
    warned = "does not say the base of its logarithm: taken as 10" in dataset.attrs["warnings"]
    assert warned == head.startswith("log ε")


@pytest.mark.parametrize(
    ("head", "values", "warning"),
    [
        ("u(counts)", [0.5, 1], ""),
        ("counts standard uncertainty", [0.5, 1], ""),
        ("standard_uncertainty", [0.5, 1], ""),
        ("u(counts) [%]", [0.1, 0.4], ""),
        ("Standardunsicherheit [%]", [0.1, 0.4], ""),
        ("std", [0.5, 1], "was taken as the standard uncertainty of counts"),
        ("std. dev. (counts)", [0.5, 1], "was taken as the standard uncertainty of counts"),
        ("U(counts)", None, "does not say whether it is a standard uncertainty"),
        ("±", None, "does not say whether it is a standard uncertainty"),
        ("error", None, "does not say whether it is a standard uncertainty"),
        ("Unsicherheit", None, "does not say whether it is a standard uncertainty"),
    ],
)
def test_uncertainties_are_no_replicates(file, head, values, warning):
    dataset = read(file(f"wavelength [nm],counts,{head}\n365,20,0.5\n366,40,1\n"))
    assert dataset.counts.values.tolist() == [20, 40]
    if values is None:
        assert list(dataset.data_vars) == ["counts"]
    else:
        np.testing.assert_allclose(dataset.counts_standard_uncertainty, values, rtol=1e-15)
    assert warning in dataset.attrs["warnings"]
    assert bool(warning) == bool(json.loads(dataset.attrs["warnings"]))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("wavelength [nm],T [%],std [%]\n365,20,0.5\n366,40,1\n", "cannot be told apart"),
        ("wavelength [nm],lg(counts),std\n365,2,0.5\n366,4,1\n", "stands beside a logarithm"),
        ("wavelength [nm],std,counts\n365,2,0.5\n366,4,1\n", "does not say of what"),
    ],
)
def test_uncertainties_that_are_not_clear(file, text, why):
    dataset = read(file(text))
    assert len(dataset.data_vars) == 1
    assert why in dataset.attrs["warnings"]


@pytest.mark.parametrize(
    "name",
    [
        *("napierian absorbance", "absorbance (base e)", "natural absorbance", "absorbance per mm"),
        *("internal transmittance", "transmittance (internal)", "transmittance loss", "reflectance loss"),
        *("change of transmittance", "delta absorbance", "first derivative of absorbance", "Δ absorbance"),
        *("normalised counts", "maximum counts", "counts (dark subtracted)", "transmittance squared"),
        *("spectral irradiance per steradian [W m-2 nm-1]", "absorbance [%]"),
    ],
)
def test_a_word_that_makes_another_quantity(file, name):
    path = file(f"wavelength [nm],{name}\n365,0.5\n366,0.6\n")
    dataset = read(path)
    assert list(dataset.data_vars) == ["unlabelled"]
    (warning,) = json.loads(dataset.attrs["warnings"])
    assert warning.startswith(f"{quote(name)} is kept as unlabelled, because of ")
    assert "name the quantity on reading" in warning
    chosen = read(path, quantity="transmittance", units="1")
    (warning,) = json.loads(chosen.attrs["warnings"])
    assert warning == f"column 2 is named {quote(name)} and was read as transmittance"


@pytest.mark.parametrize(
    ("name", "quantity"),
    [
        ("relative output", "relative_output"),
        ("decadic absorbance", "absorbance"),
        ("raw counts", "counts"),
        ("spectral transmittance", "transmittance"),
        *((f"counts {label}", "counts") for label in ("scan 1", "LED 405", "lamp 2", "A", "5 min", "mean")),
    ],
)
def test_a_word_that_is_a_label(file, name, quantity):
    dataset = read(file(f"wavelength [nm],{name}\n365,0.5\n366,0.6\n"))
    assert list(dataset.data_vars) == [quantity]
    assert json.loads(dataset.attrs["warnings"]) == []


def test_per_cent_in_a_row_of_units(file):
    dataset = read(file("Wavelength,Sample 1,Sample 2\nnm,%T,%T\n380,90,80\n381,91,81\n"))
    np.testing.assert_allclose(dataset.transmittance, [[0.9, 0.91], [0.8, 0.81]], rtol=1e-15)
    assert dataset.spectrum.values.tolist() == ["Sample 1", "Sample 2"]


@pytest.mark.parametrize(
    ("name", "largest", "warned"),
    [("transmittance", 1.04, False), ("transmittance", 1.9, True), ("transmittance [1]", 1.9, False)],
)
def test_a_fraction_that_may_be_per_cent_is_told(file, name, largest, warned):
    """A part that blocks nearly all, saved in per cent, would pass a hundred times as much."""
    dataset = read(file(f"wavelength [nm],{name}\n365,0.5\n366,{largest}\n"))
    assert dataset.transmittance.values.tolist() == [0.5, largest]
    warnings = json.loads(dataset.attrs["warnings"])
    assert any(line.endswith("if that is per cent, read it with the unit %") for line in warnings) == warned
