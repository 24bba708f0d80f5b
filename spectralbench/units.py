"""Units and wavelength grids, checked at the door of every public function.

This is the only module that uses pint, and it does so late: as long as values arrive in the
declared unit, no registry of units is built.
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
_NAME = r"[A-Za-zµμΩ][A-Za-z_µμΩ]*(?:\*\*-?\d{1,2})?"
_UNIT = re.compile(rf"(?:1(?![A-Za-zµμΩ])|{_NAME}|[\s()*/])*")
_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
_UNIT_LENGTH = 60  # no unit of measurement is longer, however it is spelled
_DECIMALS = 9  # of a converted wavelength [nm]: 0.3 µm is 300 nm, not 299.99999999999994
_LONGEST = 120  # characters of a value with its unit and its uncertainty

_FOR_PEOPLE = {
    "W m-2": ("mW/cm²", 0.1),
    "J m-2": ("J/cm²", 1e-4),
    "W m-2 nm-1": ("mW/cm²/nm", 0.1),
    "h-1": ("1/h", 1.0),
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


def _spelled_for_pint(units: str) -> str | None:
    """A unit as pint spells it, or None if the text is none.

    Only names, products, quotients, brackets and exponents of one or two digits get through:
    pint would work out any arithmetic, however long that takes.
    """
    text = units.strip().replace("%", "percent").translate(_SUPERSCRIPTS).replace("^", "**")
    text = text.replace("Å", "angstrom").replace("°C", "degC").replace("°", "degree")
    text = re.sub(r"[·.]", " ", text)
    text = re.sub(r"(?<=[A-Za-zµμΩ)])\s*(?=-?\d)", "**", text)  # W m-2, W m −2
    text = re.sub(r"\*\*\s*", "**", text)
    if len(text) > _UNIT_LENGTH or not _UNIT.fullmatch(text):
        return None
    return re.sub(r"(?<=[A-Za-z0-9µμΩ)])\s+(?=[A-Za-zµμΩ(])", " * ", text)


@functools.lru_cache(maxsize=256)
def _parsed(units: str) -> Any:
    """The pint unit behind a text such as ``W m-2 nm-1``, ``mW/cm²`` or ``%``."""
    text = _spelled_for_pint(units)
    try:
        if text is not None:
            return _registry().Unit(text if text not in ("", "1") else "dimensionless")
        reason: Exception | None = None
    except Exception as error:  # pint's own, and those of the tokenizer of Python that it uses
        reason = error
    raise UnitsError(f"{quote(units)} is not a unit of measurement") from reason


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
        try:
            value = float(text)
        except OverflowError as error:
            raise UnitsError(f"{quote(text)} is too large a number") from error
        if not math.isfinite(value):
            raise UnitsError(f"{text} is not a finite number")
        return Measured(value)
    match = _MEASURED.fullmatch(text) if len(text) <= _LONGEST else None
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
        if convert(0.0, unit or "1", units) != 0:
            raise UnitsError(f"{quote(text)}: per cent of a temperature on a scale says nothing; write K")
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
    grid = coordinate.values
    if grid.dtype.kind not in "fiu" or not np.isfinite(grid).all():
        raise GridError(f"{name} has wavelengths that are no finite numbers")
    grid = grid.astype(float, copy=False)
    if units != "nm":
        try:
            grid = np.round(convert(grid, units, "nm"), _DECIMALS)
        except UnitsError as error:
            raise UnitsError(f"the wavelengths of {name}: {error}") from error
        array = array.assign_coords(wavelength=("wavelength", grid, {"units": "nm"}))
    steps = np.diff(grid)
    if (steps > 0).all():
        return array
    if (steps < 0).all():
        return array.isel(wavelength=slice(None, None, -1))
    wrong = steps <= 0 if (steps > 0).sum() >= (steps < 0).sum() else steps >= 0
    where = int(np.argmax(wrong)) + 1
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


def in_unit(array: xr.DataArray, units: str, name: str = "the array") -> xr.DataArray:
    """Bring an array to a unit, and its wavelengths to ascending nm.

    Parameters
    ----------
    array : xarray.DataArray (...)
        Values in ``attrs["units"]``, or in `units` if it has none.
    units : str
        The unit wanted; ``"*"`` leaves it as it is.
    name : str
        What messages call the array.

    Returns
    -------
    xarray.DataArray (...)
        The array, sharing memory where nothing had to change.

    Raises
    ------
    GridError
        If its wavelengths are missing, repeated or unordered.
    UnitsError
        If its unit is of another kind.

    Examples
    --------
    >>> in_unit(xr.DataArray(12.0, attrs={"units": "%"}), "1").item()
    0.12
    """
    if hasattr(array.data, "units") and hasattr(array.data, "magnitude"):
        raise UnitsError("it holds quantities of a unit library; take plain values, with units in attrs")
    array = _in_seconds(ascending(array, name))
    given = str(array.attrs.get("units") or units)
    if units in ("*", given):
        return array
    converted = array.copy(data=convert(array.values, given, units))
    converted.attrs["units"] = units
    return converted


def _in_seconds(array: xr.DataArray) -> xr.DataArray:
    """Bring the coordinate ``integration_time`` to seconds, if it says that it is in something else."""
    if "integration_time" not in array.coords:
        return array
    time = array.coords["integration_time"]
    units = str(time.attrs.get("units") or "s")
    if units == "s":
        return array
    converted = time.copy(data=convert(time.values, units, "s")).assign_attrs(units="s")
    return array.assign_coords(integration_time=converted)


def _at_the_door(name: str, value: Any, units: str) -> Any:
    """Bring one argument to the declared unit, and its grid to ascending nm."""
    if isinstance(value, str):
        return measured(value, units).value
    return in_unit(value, units, name) if isinstance(value, xr.DataArray) else value


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
