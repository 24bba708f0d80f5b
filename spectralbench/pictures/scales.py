"""Units of axes: those that people use, with superscripts."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from spectralbench.constants import ZERO_CELSIUS
from spectralbench.units import for_people

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_FEW_DECADES = 2.0  # below that, an axis needs more numbers than the powers of ten
_SUPERSCRIPTS = str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")


class Scale(NamedTuple):
    """What an axis shows: its unit, and how values come to it."""

    label: str
    factor: float = 1.0
    zero: float = 0.0

    def of(self, values: ArrayLike) -> NDArray[np.float64]:
        """Values on the axis.

        Parameters
        ----------
        values : array_like (...)
            In the package's own unit.

        Returns
        -------
        numpy.ndarray (...)
            In the unit of the axis.

        Examples
        --------
        >>> float(for_axis("W m-2").of(600.0))
        60.0
        """
        return self.factor * (np.asarray(values, dtype=float) - self.zero)


def for_axis(units: str, *, share: bool = True) -> Scale:
    """The scale of an axis in the unit that people use.

    Parameters
    ----------
    units : str
        The unit of the values.
    share : bool
        Whether a pure number is a share, which people read in per cent.

    Returns
    -------
    Scale
        Its label, and what turns values into those that it shows.

    Examples
    --------
    >>> for_axis("W m-2").label, for_axis("m2 nm W-1 s-1").label, for_axis("1").label
    ('mW/cm²', 'm² nm W⁻¹ s⁻¹', '%')
    """
    if units == "1":
        return Scale("%", 100.0) if share else Scale("")
    label, factor = for_people(units)
    return Scale(printed(label), factor, ZERO_CELSIUS if units == "K" else 0.0)


def printed(units: str) -> str:
    """A unit as it is printed.

    Parameters
    ----------
    units : str
        As text, such as ``"W m-2 nm-1"`` or ``"mW/cm^2"``.

    Returns
    -------
    str
        With superscripts.

    Examples
    --------
    >>> printed("W m-2 nm-1"), printed("mW/cm^2/nm"), printed("L/(mol cm)")
    ('W m⁻² nm⁻¹', 'mW/cm²/nm', 'L/(mol cm)')
    """
    text = re.sub(
        r"(?<=[A-Za-zµμΩ)])\s*(?:\*\*|\^)?(-?\d+)", lambda power: power[1].translate(_SUPERSCRIPTS), units
    )
    return re.sub(r"\bu(?=[mWJLgs])", "µ", text)


def logarithmic(ax: Axes, along: Literal["x", "y"], lowest: float, highest: float) -> None:
    """Make an axis logarithmic between two values, with numbers that people read.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        Where to.
    along : {"x", "y"}
        Which axis.
    lowest, highest : float
        Its ends, above 0.

    Examples
    --------
    >>> from spectralbench.pictures.drawing import drawing
    >>> with drawing(2.0) as figure:
    ...     ax = figure.subplots()
    ...     logarithmic(ax, "y", 1.0, 30.0)
    ...     [power(value) for value in ax.get_yticks() if 1 <= value <= 30]
    ['1', '2', '5', '10', '20']
    """
    from matplotlib.ticker import LogLocator, NullFormatter

    getattr(ax, f"set_{along}scale")("log", nonpositive="mask")
    getattr(ax, f"set_{along}lim")(lowest, highest)
    axis = ax.xaxis if along == "x" else ax.yaxis
    if highest < lowest * 10**_FEW_DECADES:
        axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axis.set_major_formatter(lambda value, _: power(value))
    axis.set_minor_formatter(NullFormatter())


def power(value: float) -> str:
    """A number of a logarithmic axis.

    Parameters
    ----------
    value : float
        Any number above 0.

    Returns
    -------
    str
        As it is, or as a power of ten where it is far out.

    Examples
    --------
    >>> power(0.05), power(1e-5), power(2e7)
    ('0.05', '10⁻⁵', '2×10⁷')
    """
    if 1e-3 <= value < 1e5:
        return f"{value:g}"
    mantissa, exponent = f"{value:.0e}".split("e")
    return f"{mantissa}×10".removeprefix("1×") + str(int(exponent)).translate(_SUPERSCRIPTS)
