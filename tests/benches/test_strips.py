"""The strips of the light path add up to the figures of a comparison."""

from __future__ import annotations

import numpy as np
import pytest

import spectralbench as sb
from spectralbench.benches.strips import strips_of


@pytest.fixture(scope="module")
def strips(reduced):
    return strips_of(reduced)


def test_the_product_adds_up_to_the_photons_that_a_comparison_counts(strips, compared):
    """Also with resin in the bond line, a wetted face, and the least lit place of each spot."""
    lit = compared.least_lit.drop_attrs().fillna(1.0)
    photons = sb.photon_irradiance(strips.absorbed, 260.0, 750.0) * lit
    whole = compared.absorbed_photons
    known = whole.notnull()
    assert known.sum() >= 4
    assert np.allclose(photons.where(known, 1.0), whole.where(known, 1.0), rtol=2e-3)


def test_what_arrives_adds_up_to_the_irradiance_in_the_band(strips, compared):
    at_bond = sb.through(strips.sent, *(strips.passed.isel(part=i, drop=True) for i in range(1)))
    lit = compared.least_lit.drop_attrs().fillna(1.0)
    found = sb.band_irradiance(at_bond, 320, 430) * lit
    assert np.allclose(found, compared.band_irradiance, rtol=1e-9, equal_nan=True)


def test_initiators_share_what_the_bond_line_takes(strips, reduced):
    """With resin beside them, they take less than they would alone; together never more than all."""
    alone = 1 - 10 ** -reduced["adhesive/absorbance"].sum("initiator")
    together = strips.taken.sum("initiator")
    absorbing = reduced["adhesive/absorbance"].sum("initiator") > 1e-6
    assert (together <= alone + 1e-12).all()
    assert (together < alone).where(absorbing, True).all()
