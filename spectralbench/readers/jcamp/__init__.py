"""JCAMP-DX, the open layout of IUPAC for spectra (versions 4.24 and 5.01)."""

from spectralbench.readers.jcamp.file import read_jcamp, recognises

__all__ = ["read_jcamp", "recognises"]
