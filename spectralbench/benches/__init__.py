"""A bench folder as a whole: raw files and a manifest; open, reduce, compare, and verify what was saved."""

from spectralbench.benches.adjusting import adjust
from spectralbench.benches.comparing import compare
from spectralbench.benches.folder import open_bench
from spectralbench.benches.reducing import reduce_bench
from spectralbench.benches.sweeping import sweep
from spectralbench.benches.verifying import verify

__all__ = ["adjust", "compare", "open_bench", "reduce_bench", "sweep", "verify"]
