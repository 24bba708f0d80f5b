"""The public names: the contract that other people's notebooks rest on."""

from __future__ import annotations

import ast
import inspect
from pathlib import Path

import pytest

import spectralbench as sb

# Parameters as a caller writes them; more may follow with defaults.
CONTRACT = {
    "read": ("path",),
    "subtract_dark": ("counts", "dark"),
    "responsivity_from_lamp": ("signal", "lamp_irradiance"),
    "irradiance_from_signal": ("signal", "responsivity"),
    "band_irradiance": (None, "low", "high"),
    "photon_irradiance": (None, "low", "high"),
    "weighted_irradiance": (None, "weighting"),
    "peak_wavelength": (None,),
    "centroid_wavelength": (None, "low", "high"),
    "centre_wavelength": (None,),
    "fwhm": (None,),
    "transmittance": ("sample", "reference", "dark"),
    "absorbance": ("transmittance",),
    "slab_transmittance": ("internal", "index", "before", "after"),
    "internal_transmittance": ("transmittance", "index", "before", "after"),
    "scale_thickness": ("internal", "thickness", "new_thickness"),
    "through": (None, "layers"),
    "absorbed_photons": (None, "absorbance", "initiator"),
    "fit_ageing": ("hours", "output"),
    "cure_depth": ("exposure", "critical_exposure", "penetration_depth"),
    "exposure_limits": (None,),
    "surface_temperature_rise": ("flux", "time", "material"),
    "correct_linearity": ("counts", "coefficients"),
    "correct_stray_light": ("signal", "matrix"),
    "correct_bandpass": (None, "fwhm", "shape"),
    "fit_wavelength_scale": ("positions", "wavelengths", "degree"),
    "mismatch_factor": ("response", "calibration", "measured", "target"),
    "spectral_match_index": ("response", "calibration", "target"),
    "draw": ("value", "standard_uncertainty", "distribution", "draws", "seed", "correlation"),
    "summarize": ("x", "coverage"),
    "hours_until": ("fit", "fraction"),
    "open_bench": ("folder",),
    "reduce_bench": ("bench", "draws", "seed"),
    "compare": ("bench",),
    "provenance": ("results", "settings"),
    "verify": ("folder", "results", "tolerance"),
    "pack": ("folder", "to", "also", "draws", "seed"),
    "unpack": ("path", "folder"),
}


@pytest.mark.parametrize("name", CONTRACT)
def test_contract(name):
    assert name in sb.__all__
    parameters = list(inspect.signature(getattr(sb, name)).parameters.values())
    for expected, found in zip(CONTRACT[name], parameters, strict=False):
        assert expected in (None, found.name)
    assert all(
        p.default is not p.empty or p.kind is p.VAR_POSITIONAL for p in parameters[len(CONTRACT[name]) :]
    )


def test_stub_names_what_the_package_names():
    stub = ast.parse(Path(sb.__file__).with_suffix(".pyi").read_text(encoding="utf-8"))
    imported = {
        alias.name: node.module
        for node in stub.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert {*imported, "__version__"} == set(sb.__all__)
    for name, module in imported.items():
        home = "spectralbench" if name in sb._MODULES else f"spectralbench.{sb._HOME_OF[name]}"
        assert module == home


def test_unknown_names_are_refused():
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        sb.nonsense  # noqa: B018
    assert set(sb.__all__) <= set(dir(sb))


def public_functions():
    for name in sb.__all__:
        value = getattr(sb, name)
        if inspect.isfunction(value):
            yield pytest.param(value, id=name)


@pytest.mark.parametrize("function", list(public_functions()))
def test_docstrings_say_shapes_units_and_errors(function):
    text = inspect.getdoc(function)
    returns = () if inspect.signature(function).return_annotation == "None" else ("Returns\n---",)
    for section in ("Parameters\n---", "Examples\n---", *returns):
        assert section in text, f"{function.__name__} has no section {section[:-4]}"
    documented = {line.split(" : ")[0].strip("* ") for line in text.splitlines() if " : " in line}
    documented = {word.strip("* ") for names in documented for word in names.split(",")}
    assert set(inspect.signature(function).parameters) <= documented
    assert "Raises\n---" in text or function.__name__ in {"extrapolation", "output_at", "spectrum"}
