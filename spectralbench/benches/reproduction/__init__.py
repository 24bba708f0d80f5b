"""Made again, here or elsewhere: packs, and results held against their raw files."""

from spectralbench.benches.reproduction.packing import pack
from spectralbench.benches.reproduction.unpacking import unpack
from spectralbench.benches.reproduction.verifying import verify

__all__ = ["pack", "unpack", "verify"]
