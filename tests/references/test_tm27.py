"""IES TM-27 against colour-science 0.4.7 (BSD-3-Clause), which reads and writes it too.

It says what a field is and which number stands where. Its files are read from where it is
installed; none is copied.
"""

import contextlib
import json
import warnings
from pathlib import Path

import colour
import numpy as np
import pytest

from spectralbench.model import spectrum
from spectralbench.readers.choices import Choices
from spectralbench.readers.content import load
from spectralbench.readers.tm27 import read_tm27, write_tm27

FILES = sorted(Path(colour.__file__).parent.rglob("*.spdx"))
FIELDS = {
    "Manufacturer": "manufacturer",
    "CatalogNumber": "catalog_number",
    "Description": "description",
    "DocumentCreator": "document_creator",
    "UniqueIdentifier": "unique_identifier",
    "MeasurementEquipment": "measurement_equipment",
    "Laboratory": "laboratory",
    "ReportNumber": "report_number",
    "ReportDate": "report_date",
    "DocumentCreationDate": "document_creation_date",
    "Comments": "comments",
}


@contextlib.contextmanager
def uneven_grids():
    """It warns that it changes its interpolator on a grid that is not even; no value is asked between."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", category=colour.utilities.ColourWarning)
        yield


def theirs(path):
    with uneven_grids():
        return colour.SpectralDistribution_IESTM2714(str(path)).read()


def same(dataset, distribution):
    (array,) = dataset.data_vars.values()
    assert dataset.wavelength.values.tolist() == distribution.wavelengths.tolist()
    assert array.values.tolist() == distribution.values.tolist()
    header = json.loads(dataset.attrs["header"])
    for field, attribute in FIELDS.items():
        assert header.get(field) == getattr(distribution.header, attribute)
    assert header.get("SpectralQuantity") == distribution.spectral_quantity
    assert header.get("ReflectionGeometry") == distribution.reflection_geometry
    assert header.get("TransmissionGeometry") == distribution.transmission_geometry
    assert array.attrs.get("bandwidth") == distribution.bandwidth_FWHM
    assert header.get("BandwidthCorrected", "false") == str(bool(distribution.bandwidth_corrected)).lower()


@pytest.mark.parametrize(
    "path", [path for path in FILES if path.stem != "Invalid"], ids=lambda path: path.stem
)
def test_its_files_read_the_same(path, agrees):
    ours, distribution = read_tm27(load(path), Choices()), theirs(path)
    same(ours, distribution)
    (array,) = ours.data_vars.values()
    source = f"colour.SpectralDistribution_IESTM2714 {colour.__version__}"
    agrees(f"{path.name}, mean", array.mean(), np.mean(distribution.values), source, 14, "package")


def test_its_lamp_with_uneven_wavelengths():
    """Fluorescent.spdx of colour-science 0.4.7: 85 rows from 400.0 nm to 850.1 nm, at 0.4 nm and more."""
    (path,) = (path for path in FILES if path.stem == "Fluorescent")
    dataset = read_tm27(load(path), Choices())
    assert dataset.sizes == {"wavelength": 85}
    assert dataset["unlabelled"].values[:3].tolist() == [0.034, 0.037, 0.069]
    assert dataset.wavelength.values[:3].tolist() == [400.0, 403.1, 405.5]
    assert dataset["unlabelled"].attrs["bandwidth"] == 2.0
    assert np.unique(np.diff(dataset.wavelength).round(9)).size > 20


def test_our_sample_reads_the_same():
    same(read_tm27(load("tests/samples/tm27_led.spdx"), Choices()), theirs("tests/samples/tm27_led.spdx"))


@pytest.mark.parametrize("name", ["spectral_irradiance", "transmittance", "reflectance"])
def test_it_reads_what_we_write(tmp_path, name):
    grid = np.array([200.0, 253.652, 300.1, 365.0150000001, 404.6565, 1100.0])
    values = np.array([0.0, 5e-324, 1 / 3, -1e-9, 0.1 + 0.2, 1.0])
    header = {field: f"{field} <&> ä" for field in FIELDS} | {"BandwidthCorrected": "true"}
    array = spectrum(values, grid, name).assign_attrs(bandwidth=2.5)
    write_tm27(tmp_path / "ours.spdx", array, {**header, "ReflectionGeometry": "di:8"})
    distribution = theirs(tmp_path / "ours.spdx")
    assert distribution.wavelengths.tolist() == grid.tolist()
    assert distribution.values.tolist() == values.tolist()
    assert distribution.bandwidth_FWHM == 2.5
    assert distribution.bandwidth_corrected is True
    assert distribution.reflection_geometry == "di:8"
    assert distribution.spectral_quantity == name.removeprefix("spectral_")
    same(read_tm27(load(tmp_path / "ours.spdx"), Choices()), distribution)


def test_we_read_what_it_writes(tmp_path):
    path = tmp_path / "theirs.spdx"
    header = colour.io.tm2714.Header_IESTM2714(
        description="<invented>", document_creator="nobody", document_creation_date="2026-03-02"
    )
    data = dict(
        zip(np.arange(300.0, 420.0, 0.7).round(1), (np.linspace(0, 1, 172) ** 3).round(6), strict=True)
    )
    with uneven_grids():
        distribution = colour.SpectralDistribution_IESTM2714(
            str(path), header, "transmittance", None, "0:0", None, False, data=data
        )
        distribution.write()
    dataset = read_tm27(load(path), Choices())
    assert json.loads(dataset.attrs["warnings"]) == []
    same(dataset, theirs(path))
    assert dataset.wavelength.values.tolist() == distribution.wavelengths.tolist()
    assert dataset["transmittance"].values.tolist() == distribution.values.tolist()
