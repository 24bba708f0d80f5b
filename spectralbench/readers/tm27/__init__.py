"""IES TM-27: one spectrum with its header, as XML."""

from spectralbench.readers.tm27.document import recognises
from spectralbench.readers.tm27.reading import FORMAT, read_tm27
from spectralbench.readers.tm27.writing import write_tm27

__all__ = ["FORMAT", "read_tm27", "recognises", "write_tm27"]
