"""Published functions of wavelength, line lists and tables, each with its source and standing."""

from spectralbench.curves.files import ExtrapolationWarning, FromMemoryWarning, names
from spectralbench.curves.line_lists import effective_lines, lines, vacuum_to_air
from spectralbench.curves.refractive_indices import refractive_index
from spectralbench.curves.spectral import initiator, load
from spectralbench.curves.tables import band, table, thermal

__all__ = [
    "ExtrapolationWarning",
    "FromMemoryWarning",
    "band",
    "effective_lines",
    "initiator",
    "lines",
    "load",
    "names",
    "refractive_index",
    "table",
    "thermal",
    "vacuum_to_air",
]
