"""Pictures from Python, without a browser: spectra, light path, comparison, budget, sweep, ageing.

Each function returns a figure of matplotlib with a look of its own, whatever the user's settings are. A
notebook shows it as the last line of a cell; ``savefig`` writes it as SVG, PDF or PNG. pyplot is not used.
"""

from spectralbench.pictures.ageing import ageing
from spectralbench.pictures.budget import budget
from spectralbench.pictures.by_depth import by_depth
from spectralbench.pictures.comparison import comparison
from spectralbench.pictures.light_path import light_path
from spectralbench.pictures.spectra import spectra
from spectralbench.pictures.sweep import sweep

__all__ = ["ageing", "budget", "by_depth", "comparison", "light_path", "spectra", "sweep"]
