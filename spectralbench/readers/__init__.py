"""From a file to the data model: one module per layout."""

from spectralbench.readers.many import read_many
from spectralbench.readers.plain_text import write_spectra
from spectralbench.readers.reading import looks_readable, read
from spectralbench.readers.tm27 import write_tm27

__all__ = ["looks_readable", "read", "read_many", "write_spectra", "write_tm27"]
