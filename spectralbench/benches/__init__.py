"""A bench folder as a whole: raw files and a manifest; open it, reduce it, compare its sources."""

from spectralbench.benches.comparing import compare
from spectralbench.benches.folder import open_bench
from spectralbench.benches.reducing import reduce_bench

__all__ = ["compare", "open_bench", "reduce_bench"]
