"""A virtual bench: an invented instrument in front of invented light, with known truth.

It writes the demo bench as raw text files, and tells the tests what the reduction must find. Its modules
`plaques`, `year` and `check_bench` write what other stories need: a housing material, a year of a team's
readings, a spectrometer with faults; each with its truth beside it.
"""

from spectralbench.virtual.bench import write_demo_bench

__all__ = ["write_demo_bench"]
