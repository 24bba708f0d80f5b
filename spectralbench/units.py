"""Units and wavelength grids, checked at the door of every public function.

This is the only module that imports pint, and it does so late: as long as values arrive in
the declared unit, no unit library is loaded.
"""

from __future__ import annotations

import functools
import inspect
import math
import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, NamedTuple, ParamSpec, TypeVar, cast

import numpy as np
import xarray as xr

from spectralbench.errors import GridError, UnitsError, quote

if TYPE_CHECKING:
    import pint

P = ParamSpec("P")
R = TypeVar("R")

_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_PLUS_MINUS = r"(?:±|\+/-|\+-)"
_MEASURED = re.compile(
    rf"\s*(?P<value>{_NUMBER})\s*(?P<unit>[^±+\d\s][^±+]*?)?\s*"
    rf"(?:{_PLUS_MINUS}\s*(?P<u>{_NUMBER})\s*(?P<u_unit>[^±+]*?))?\s*"
)
_EXPONENT = re.compile(r"(?<=[A-Za-zµμΩ])\s*(?=-?\d)")
_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
_UNIT_LENGTH = 60  # no unit of measurement is longer

_FOR_PEOPLE = {
    "W m-2": ("mW/cm²", 0.1),
    "J m-2": ("J/cm²", 1e-4),
    "W m-2 nm-1": ("mW/cm²/nm", 0.1),
    "umol m-2 s-1": ("µmol/m²/s", 1.0),
    "1": ("", 1.0),
}


class Measured(NamedTuple):
    """A value and its standard uncertainty, in one unit."""

    value: float
    standard_uncertainty: float = 0.0


@functools.cache
def _registry() -> pint.UnitRegistry[Any]:
    import pint

    return pint.UnitRegistry(cache_folder=None)


@functools.lru_cache(maxsize=256)
def _parsed(units: str) -> Any:
    """The pint unit behind a text such as ``W m-2 nm-1``, ``mW/cm²`` or ``%``."""
    import pint

    text = units.strip().replace("%", "percent").translate(_SUPERSCRIPTS).replace("·", " ")
    if len(text) > _UNIT_LENGTH or not re.fullmatch(r"[\w\s./*^()°µμΩÅ-]*", text):
        raise UnitsError(f"{quote(units)} is not a unit of measurement")
    text = _EXPONENT.sub("**", text.replace("^", "**").replace("Å", "angstrom"))
    text = re.sub(r"\*\*\s*\*\*", "**", text)
    text = text.replace("°C", "degC").replace("°", "degree")
    text = re.sub(r"(?<=[A-Za-z0-9µμ)])\s+(?=[A-Za-zµμΩ(])", " * ", text.strip())
    try:
        return _registry().Unit(text if text not in ("", "1") else "dimensionless")
    except (pint.PintError, ValueError, TypeError, AttributeError, OverflowError) as error:
        raise UnitsError(f"{quote(units)} is not a unit of measurement") from error
    except Exception as error:  # pint's tokenizer lets errors of the Python parser through
        raise UnitsError(f"{quote(units)} is not a unit of measurement") from error


def same_kind(units: str, other: str) -> bool:
    """Tell whether values in one unit can be converted to the other.

    Parameters
    ----------
    units, other : str
        Units as text.

    Returns
    -------
    bool
        Whether both measure the same kind of quantity.

    Raises
    ------
    UnitsError
        If one of the texts is no unit.

    Examples
    --------
    >>> same_kind("mW/cm^2", "W m-2"), same_kind("mJ/cm^2", "W m-2")
    (True, False)
    """
    return bool(_parsed(units).is_compatible_with(_parsed(other)))


def convert(values: Any, units: str, to: str) -> Any:
    """Convert plain values from one unit to another.

    Parameters
    ----------
    values : float or numpy.ndarray (...)
        Values in `units`.
    units, to : str
        Units as text: ``"W m-2 nm-1"``, ``"mW/cm^2"``, ``"µm"``, ``"%"``.

    Returns
    -------
    float or numpy.ndarray (...)
        The values in `to`.

    Raises
    ------
    UnitsError
        If a text is no unit, or the two measure different things.

    Examples
    --------
    >>> round(convert(120.0, "mW/cm^2", "W m-2"), 9)
    1200.0
    """
    if units == to:
        return values
    source, target = _parsed(units), _parsed(to)
    if not source.is_compatible_with(target):
        raise UnitsError(f"{quote(units)} cannot be converted to {quote(to)}")
    return _registry().Quantity(values, source).to(target).magnitude


def measured(text: str | float, units: str) -> Measured:
    """Read a value with its unit, and its standard uncertainty where one is given.

    Parameters
    ----------
    text : str or float
        ``"500 mm"``, ``"500 mm ± 0.5 mm"``, ``"500 ± 0.5 mm"`` or ``"20 ms ± 1 %"``; ``+-`` and
        ``+/-`` stand for ±. A plain number is taken in `units`.
    units : str
        The unit of the result.

    Returns
    -------
    Measured
        The value and its standard uncertainty [`units`].

    Raises
    ------
    UnitsError
        If the text is no number with a unit that converts to `units`.

    Examples
    --------
    >>> measured("50 cm ± 1 %", "mm")
    Measured(value=500.0, standard_uncertainty=5.0)
    """
    if not isinstance(text, str):
        return Measured(float(text))
    match = _MEASURED.fullmatch(text)
    if match is None:
        raise UnitsError(f"{quote(text)} is not a number with a unit, such as {quote(f'2 {units}')}")
    value, unit = float(match["value"]), (match["unit"] or "").strip()
    u, u_unit = float(match["u"] or 0.0), (match["u_unit"] or "").strip()
    if not unit:
        unit, u_unit = (u_unit, "") if u_unit != "%" else ("", "%")
    if not unit and units != "1":
        raise UnitsError(f"{quote(text)} has no unit; write it as {quote(f'{value:g} {units}')}")
    converted = float(convert(value, unit or "1", units))
    if not u_unit:
        u_unit = unit or "1"
    if u_unit == "%" and unit != "%":
        spread = abs(converted) * u / 100
    else:
        spread = u * float(convert(1.0, u_unit, units) - convert(0.0, u_unit, units))
    if not (math.isfinite(converted) and math.isfinite(spread)) or spread < 0:
        raise UnitsError(f"{quote(text)} is not a finite number with a positive uncertainty")
    return Measured(converted, spread)


def for_people(units: str) -> tuple[str, float]:
    """The unit that a table shows, and the factor to it.

    Parameters
    ----------
    units : str
        A unit of the package's own.

    Returns
    -------
    tuple of str and float
        The label (empty for a pure number) and what to multiply by.

    Examples
    --------
    >>> for_people("W m-2")
    ('mW/cm²', 0.1)
    """
    return _FOR_PEOPLE.get(units, (units, 1.0))


def ascending(array: xr.DataArray, name: str = "spectrum") -> xr.DataArray:
    """Check the wavelength grid of an array and turn it to run upwards, in nm.

    Parameters
    ----------
    array : xarray.DataArray (..., wavelength)
        Any array; one without the dimension is returned as it is.
    name : str
        What messages call it.

    Returns
    -------
    xarray.DataArray (..., wavelength)
        The same values, sharing memory where nothing had to change.

    Raises
    ------
    GridError
        If the coordinate is missing, not finite, repeated or unordered.
    UnitsError
        If the coordinate is in a unit that is no length.

    Examples
    --------
    >>> a = xr.DataArray([3.0, 1.0], {"wavelength": [400.0, 300.0]}, "wavelength")
    >>> ascending(a).wavelength.values.tolist()
    [300.0, 400.0]
    """
    if "wavelength" not in array.dims:
        return array
    if "wavelength" not in array.coords:
        raise GridError(f"{name} has a dimension wavelength without a coordinate: give it values in nm")
    coordinate = array.coords["wavelength"]
    units = coordinate.attrs.get("units", "nm")
    if units != "nm":
        array = array.assign_coords(
            wavelength=("wavelength", convert(coordinate.values, units, "nm"), {"units": "nm"})
        )
    grid = array.coords["wavelength"].values
    if grid.dtype.kind not in "fiu" or not np.isfinite(grid).all():
        raise GridError(f"{name} has wavelengths that are no finite numbers")
    steps = np.diff(grid)
    if (steps > 0).all():
        return array
    if (steps < 0).all():
        return array.isel(wavelength=slice(None, None, -1))
    where = int(np.argmax(steps <= 0)) + 1
    raise GridError(
        f"{name} has wavelengths out of order: {grid[where - 1]:g} nm is followed by {grid[where]:g} nm"
        " (each may stand only once)"
    )


def _require_one_grid(arrays: list[tuple[str, xr.DataArray]]) -> None:
    """Refuse arrays whose wavelengths differ, however little."""
    (first, reference), *others = arrays
    grid = reference.coords["wavelength"].values
    for name, array in others:
        other = array.coords["wavelength"].values
        if other.size != grid.size:
            raise GridError(
                f"{first} has {grid.size} wavelengths and {name} has {other.size}: "
                "interpolate one of them to the other's grid first, and say by which rule"
            )
        if not np.array_equal(grid, other):
            apart = np.abs(other - grid)
            raise GridError(
                f"{first} and {name} have wavelengths up to {apart.max():.3g} nm apart (near "
                f"{grid[int(apart.argmax())]:g} nm): they are not one grid. "
                "Interpolate one of them to the other's grid first, and say by which rule"
            )


def _at_the_door(name: str, value: Any, units: str) -> Any:
    """Bring one argument to the declared unit, and its grid to ascending nm."""
    if isinstance(value, str):
        return value if units == "*" else measured(value, units).value
    if isinstance(value, xr.DataArray):
        value = ascending(value, name)
        given = value.attrs.get("units", units)
        if units not in ("*", given):
            value = value.copy(data=convert(value.values, given, units))
            value.attrs["units"] = units
    return value


def declares(
    returns: str | None = None, *, own_grid: tuple[str, ...] = (), **arguments: str
) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Declare the units that a function takes and returns.

    On the way in, strings with units and arrays in other units are converted, plain numbers
    and arrays without units are taken as declared, and every array with a wavelength
    dimension is checked and turned to run upwards. All arrays that share the dimension must
    have exactly the same grid. On the way out the result is stamped.

    Parameters
    ----------
    returns : str, optional
        Unit of the result; without it the function stamps its own result.
    own_grid : tuple of str
        Arguments that keep a wavelength grid of their own.
    **arguments : str
        Unit of each argument; ``"*"`` leaves the unit as it is.

    Returns
    -------
    callable
        The decorator.

    Raises
    ------
    UnitsError
        From the decorated function, for all arguments of one call together.
    GridError
        From the decorated function, if grids differ or are not in order.

    Examples
    --------
    >>> @declares("m2", side="m")
    ... def area(side):
    ...     return side * side
    >>> area("20 cm")
    0.04000000000000001
    """

    def decorate(function: Callable[P, R]) -> Callable[P, R]:
        signature = inspect.signature(function)

        @functools.wraps(function)
        def at_the_door(*args: P.args, **kwargs: P.kwargs) -> R:
            bound = signature.bind(*args, **kwargs)
            faults: list[str] = []
            on_one_grid: list[tuple[str, xr.DataArray]] = []
            for name, units in arguments.items():
                value = bound.arguments.get(name)
                several = isinstance(value, tuple)  # *arguments arrive as a tuple
                items = cast(tuple[Any, ...], value) if several else (value,)
                taken = []
                for number, item in enumerate(items, 1):
                    label = f"{name} {number}" if several else name
                    try:
                        item = _at_the_door(label, item, units)
                    except UnitsError as error:
                        faults.append(f"{label}: {error}")
                    taken.append(item)
                    if isinstance(item, xr.DataArray) and "wavelength" in item.dims and name not in own_grid:
                        on_one_grid.append((label, item))
                if name in bound.arguments:
                    bound.arguments[name] = tuple(taken) if several else taken[0]
            if faults:
                raise UnitsError(f"{function.__name__}(): " + "; ".join(faults))
            if len(on_one_grid) > 1:
                _require_one_grid(on_one_grid)
            result = function(*bound.args, **bound.kwargs)
            if returns is not None and isinstance(result, xr.DataArray):
                result.attrs["units"] = returns
            return result

        cast("Any", at_the_door).declared_units = {**arguments, "return": returns}
        return at_the_door

    return decorate
