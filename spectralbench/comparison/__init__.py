"""Candidates against requirements: figures at the bond line, verdicts, reasons, an order.

Each criterion is met, not met or not known, with the figure that decides, in words. There is
no blended score. Nothing here claims a cure: the result is a list of what to test first.
"""

from spectralbench.comparison.cautions import CAUTIONS
from spectralbench.comparison.changes import Means
from spectralbench.comparison.criteria import criteria_of
from spectralbench.comparison.depths import by_depth
from spectralbench.comparison.figure_names import FIGURES
from spectralbench.comparison.figures import exposure_times, figures_at_bond_line
from spectralbench.comparison.heating import Stack, heating
from spectralbench.comparison.lasting import Course, lasting, regulated
from spectralbench.comparison.needed import needed_light
from spectralbench.comparison.requirement import Requirement
from spectralbench.comparison.running import Keeping, running
from spectralbench.comparison.verdicts import RULE, judge
from spectralbench.comparison.words import (
    MET,
    NO_LIMIT,
    NOT_KNOWN,
    NOT_MET,
    in_words,
    interval_in_words,
    within,
)

__all__ = [
    "CAUTIONS",
    "FIGURES",
    "MET",
    "NOT_KNOWN",
    "NOT_MET",
    "NO_LIMIT",
    "RULE",
    "Course",
    "Keeping",
    "Means",
    "Requirement",
    "Stack",
    "by_depth",
    "criteria_of",
    "exposure_times",
    "figures_at_bond_line",
    "heating",
    "in_words",
    "interval_in_words",
    "judge",
    "lasting",
    "needed_light",
    "regulated",
    "running",
    "within",
]
