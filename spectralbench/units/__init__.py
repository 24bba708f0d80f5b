"""Units and wavelength grids, checked at the door of every public function."""

from spectralbench.units.conversion import Measured, convert, for_people, measured, same_kind
from spectralbench.units.door import ascending, declares, in_unit

__all__ = ["Measured", "ascending", "convert", "declares", "for_people", "in_unit", "measured", "same_kind"]
