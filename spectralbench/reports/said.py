"""What is said beside figures, on a page as in a terminal."""

from __future__ import annotations

from spectralbench.comparison import NOT_KNOWN
from spectralbench.reports.figures import SHAPE_NAMES, Record

NAMES_OF_SHAPE = SHAPE_NAMES | {
    name: f"{SHAPE_NAMES[name]} over the whole grid" for name in ("centroid_wavelength", "irradiance")
}
"""What figures of a spectrum are called; of those that take the whole grid, it says so."""

RADIOMETER_FIGURES = {
    "mean_irradiance": "mean of its readings",
    "mismatch_factor": "factor for this source",
    "corrected_irradiance": "corrected reading",
    "spectrometer_irradiance": "spectrometer",
    "ratio": "corrected over spectrometer",
}
"""What figures of a radiometer are called."""

AGREEMENT = {True: "yes", False: "no", None: NOT_KNOWN}
"""Whether radiometer and spectrometer agree."""

INTERVALS = (
    "Beside or below a figure stands the interval that covers it with 95 %, if the budget is complete."
)

BELOW_BAND = (
    "Where the whole grid gives less than the required band, the noise of dark pixels outside it adds up "
    "to less than 0."
)


def causes_that_count(shares: dict[str, dict[str, float | None]]) -> list[str]:
    """Causes that a table of shares shows.

    Parameters
    ----------
    shares : dict
        By source and cause, the share of the variance of one figure [1]; None where it is not known.

    Returns
    -------
    list of str
        Without those that contribute nothing to the figure of any source.

    Examples
    --------
    >>> causes_that_count({"arc": {"noise": 0.0, "distance": 1.0}, "LED": {"noise": None, "distance": None}})
    ['distance']
    """
    by_cause = {cause: [of[cause] for of in shares.values()] for cause in next(iter(shares.values()), {})}
    return [cause for cause, row in by_cause.items() if 0.0 not in row or any(row)]


def sums_below_band(sources: list[Record], whole: str) -> bool:
    """Whether a sum over the whole grid lies below that over the required band, which is a part of it.

    Parameters
    ----------
    sources : list of dict
        Records with figures.
    whole : str
        The figure over the whole grid.

    Returns
    -------
    bool
        True if so for any source, as printed: then `BELOW_BAND` explains it.

    Examples
    --------
    >>> figures = {"irradiance": {"value": 11.02}, "band_irradiance": {"value": 11.03}}
    >>> sums_below_band([{"figures": figures}], "irradiance")
    True
    """
    pairs = [[source["figures"][key]["value"] for key in (whole, "band_irradiance")] for source in sources]
    return any(None not in pair and pair[0] < pair[1] for pair in pairs)


def share_in_words(share: float | None) -> str:
    """A share of a variance, in whole per cent.

    Parameters
    ----------
    share : float or None
        Share [1]; None if it is not known.

    Returns
    -------
    str
        Per cent.

    Examples
    --------
    >>> share_in_words(0.234), share_in_words(0.001), share_in_words(0.0), share_in_words(None)
    ('23 %', '< 1 %', '0', 'not known')
    """
    if share is None:
        return NOT_KNOWN
    if share == 0:
        return "0"
    return "< 1 %" if share < 0.01 else f"{100 * share:.0f} %"
