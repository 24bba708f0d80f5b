"""Output against hours of use, and what follows from it.

A log is fitted (`fit_ageing`, `fit_two_stage`), later measurements refit it (`updated`), and the
fit says what is left (`output_at`, `output_left`, `hours_until`) and how far that lies beyond the
log. From there: the setting that holds the light, and for how long (`setting_for`, `hours_held`,
`level_plan`), the next change of the lamp (`relamp_plan`), and what it all costs (`running_cost`).
"""

from spectralbench.ageing.fit import fit_ageing
from spectralbench.ageing.headroom import headroom, setting_for
from spectralbench.ageing.level_plan import level_plan
from spectralbench.ageing.prediction import (
    FARTHEST,
    extrapolation,
    hours_held,
    hours_until,
    output_at,
    output_left,
)
from spectralbench.ageing.relamping import relamp_plan
from spectralbench.ageing.running_cost import running_cost
from spectralbench.ageing.scatter import drawn
from spectralbench.ageing.two_stage import fit_two_stage
from spectralbench.ageing.updates import split_at_relamps, updated

__all__ = [
    "FARTHEST",
    "drawn",
    "extrapolation",
    "fit_ageing",
    "fit_two_stage",
    "headroom",
    "hours_held",
    "hours_until",
    "level_plan",
    "output_at",
    "output_left",
    "relamp_plan",
    "running_cost",
    "setting_for",
    "split_at_relamps",
    "updated",
]
