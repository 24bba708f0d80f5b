"""A bench folder as a whole: raw files and a manifest; open, reduce, compare, verify, pack."""

from spectralbench.benches.adjusting import adjust
from spectralbench.benches.comparing import compare
from spectralbench.benches.folder import open_bench
from spectralbench.benches.origins import provenance
from spectralbench.benches.reducing import reduce_bench
from spectralbench.benches.reproduction import pack, unpack, verify
from spectralbench.benches.starting import start_bench
from spectralbench.benches.sweeping import sweep

__all__ = [
    "adjust",
    "compare",
    "open_bench",
    "pack",
    "provenance",
    "reduce_bench",
    "start_bench",
    "sweep",
    "unpack",
    "verify",
]
