"""A virtual bench: an invented instrument in front of invented light, with known truth.

It writes the demo bench as raw text files, and tells the tests what the reduction must find.
"""

from spectralbench.virtual.bench import write_demo_bench

__all__ = ["write_demo_bench"]
