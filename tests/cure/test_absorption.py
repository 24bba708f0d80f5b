"""Light in the bond line: how much of it is absorbed, and by which absorber."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.cure import absorbed_light, absorbed_photons, absorbed_share, initiator_absorbance
from spectralbench.errors import GridError, RangeError, UnitsError

GRID = [364.0, 366.0]
NAN = np.nan


def line(values, units="1", grid=GRID):
    return xr.DataArray(np.asarray(values, float), {"wavelength": grid}, "wavelength", attrs={"units": units})


class TestAbsorbance:
    def test_beer_and_lambert(self):
        found = initiator_absorbance(line([100, 200], "L mol-1 cm-1"), "10 mmol/L", "1 mm")
        assert found.values == pytest.approx([0.1, 0.2])

    def test_square_metres_of_a_mole(self):
        # 1 m2/mol = 10 L mol-1 cm-1
        found = initiator_absorbance(line([10, 20], "m^2/mol"), 0.01, 0.1)
        assert found.values == pytest.approx([0.1, 0.2])

    @pytest.mark.parametrize(("concentration", "thickness"), [(-1, 1), (1, -1)])
    def test_less_than_nothing(self, concentration, thickness):
        said = f"concentration and thickness are not negative: {concentration} mol/L, {thickness} cm"
        with pytest.raises(RangeError, match=said):
            initiator_absorbance(line([1, 1], "L mol-1 cm-1"), concentration, thickness)

    def test_a_concentration_by_mass(self):
        with pytest.raises(UnitsError, match='concentration: "g/L" cannot be converted to "mol/L"'):
            initiator_absorbance(line([1, 1], "L mol-1 cm-1"), "5 g/L", "1 mm")


class TestShare:
    def test_by_hand(self):
        assert absorbed_share(line([1.0, 0.0])).values == pytest.approx([0.9, 0.0])
        assert absorbed_share(line([2.0, 1.0]), line([0.5, 1.0])).values == pytest.approx([0.2475, 0.9])

    def test_nothing_shared_is_nothing(self):
        assert absorbed_share(line([0.0, 0.0]), line([0.0, 0.0])).values.tolist() == [0.0, 0.0]

    def test_less_than_nothing(self):
        with pytest.raises(RangeError, match=r"an absorbance is not negative; this one reaches -0\.1"):
            absorbed_share(line([1.0, -0.1]))

    @pytest.mark.parametrize("initiator", [[0.1, 1.1], [-0.1, 0.5]])
    def test_a_part_that_exceeds_the_whole(self, initiator):
        with pytest.raises(RangeError, match="lies between 0 and that of the whole bond line"):
            absorbed_share(line([1.0, 1.0]), line(initiator))


class TestLight:
    def test_an_invalid_sample_where_nothing_is_absorbed_does_no_harm(self):
        light = line([NAN, 10.0], "W m-2 nm-1")
        assert absorbed_light(light, line([0.0, 1.0])).values == pytest.approx([0.0, 9.0])
        assert np.isnan(absorbed_light(light, line([1e-9, 1.0])).values).tolist() == [True, False]

    def test_an_absorbance_that_is_not_known_is_not_nothing(self):
        found = absorbed_light(line([10.0, 10.0], "W m-2 nm-1"), line([NAN, 1.0]))
        assert found.values == pytest.approx([NAN, 9.0], nan_ok=True)
        assert np.isnan(absorbed_photons(line([10.0, 10.0], "W m-2 nm-1"), line([NAN, 1.0])).item())

    def test_photons_by_hand(self):
        # 10 W m-2 nm-1 over 2 nm around 365 nm, all absorbed: 20 J of light of 365 nm. A joule of it is
        # 365e-9 / (h c N_A) mol (SI Brochure, 9th edition, 2019)
        joule = 365e-9 / (6.62607015e-34 * 299792458 * 6.02214076e23) * 1e6
        found = absorbed_photons(line([10.0, 10.0], "W m-2 nm-1"), line([40.0, 40.0]))
        assert found.item() == pytest.approx(20 * joule, rel=1e-9)
        assert found.attrs["units"] == "umol m-2 s-1"

    def test_another_grid(self):
        with pytest.raises(GridError, match="are not one grid"):
            absorbed_photons(line([1, 1], "W m-2 nm-1"), line([1, 1], grid=[364.0, 366.001]))

    def test_another_unit(self):
        with pytest.raises(UnitsError, match=r"spectrum: .*W m-2.*absorbance: "):
            absorbed_photons(line([1, 1], "W m-2"), line([1, 1], "nm"))

    def test_without_an_initiator_nothing_is_absorbed(self):
        none = initiator_absorbance(line([300, 300], "L mol-1 cm-1"), 0.0, "100 um")
        assert absorbed_photons(line([NAN, 10.0], "W m-2 nm-1"), none).item() == 0.0

    def test_an_opaque_bond_line_takes_all(self):
        assert absorbed_share(line([1e6, np.inf])).values.tolist() == [1.0, 1.0]

    def test_a_bond_line_of_no_thickness(self):
        assert initiator_absorbance(line([300, 300], "L mol-1 cm-1"), 0.02, 0.0).values.tolist() == [0, 0]

    def test_single_precision_stays_single(self):
        assert absorbed_share(line([1.0, 0.0]).astype(np.float32)).dtype == np.float32
