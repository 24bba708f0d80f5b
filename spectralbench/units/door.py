"""The door of every public function: kinds of arguments and grids checked, units converted."""

from __future__ import annotations

import functools
import inspect
import re
from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar, cast

import numpy as np
import xarray as xr

from spectralbench.errors import GridError, RangeError, UnitsError, quote
from spectralbench.units.conversion import convert, measured, same_kind

P = ParamSpec("P")
R = TypeVar("R")

_DECIMALS = 9  # of a converted wavelength [nm]: 0.3 µm is 300 nm, not 299.99999999999994
_NUMBER = re.compile(r"\s*[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_ARRAYS: dict[str, type] = {"xr.DataArray": xr.DataArray, "xr.Dataset": xr.Dataset}
_NUMBERS = ("float", "float | str", "int")


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
        If it is no xarray.DataArray, or its wavelengths are missing, repeated or unordered.
    UnitsError
        If its unit is of another kind.

    Examples
    --------
    >>> in_unit(xr.DataArray(8830.0, attrs={"units": "W m-2"}), "mW/cm^2").item()
    883.0
    """
    _require_array(name, array, xr.DataArray)
    if hasattr(array.data, "units") and hasattr(array.data, "magnitude"):
        raise UnitsError("it holds quantities of a unit library; take plain values, with units in attrs")
    array = _in_seconds(ascending(array, name))
    if array.dtype.kind in "iub":  # differences of unsigned counts would wrap round
        array = array.astype(float)
    given = str(array.attrs.get("units") or units)
    if units in ("*", given):
        return array
    converted = array.copy(data=_rounded(convert(array.values, given, units), units))
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
        return _with_its_own_unit(value) if units == "*" else _rounded(measured(value, units).value, units)
    if isinstance(value, list):
        return [_at_the_door(name, item, units) if isinstance(item, str) else item for item in value]
    return in_unit(value, units, name) if isinstance(value, xr.DataArray) else value


def _rounded(values: Any, units: str) -> Any:
    return np.round(values, _DECIMALS) if units == "nm" else values


def _with_its_own_unit(text: str) -> xr.DataArray:
    """A value whose unit nobody has declared."""
    number = _NUMBER.match(text)
    if number is None:
        raise UnitsError(f'{quote(text)} is not a number with a unit, such as "2 mm"')
    units = text[number.end() :].strip() or "1"
    same_kind(units, units)  # a word that is no unit is refused here
    return xr.DataArray(measured(text, units).value, attrs={"units": units})


def _kind(parameter: inspect.Parameter) -> tuple[str, bool]:
    """What an argument has to be, by its annotation, and whether None stands for none."""
    if parameter.kind is parameter.VAR_POSITIONAL:
        return "", False
    annotation = str(parameter.annotation)
    kind = annotation.removesuffix(" | None")
    return kind, parameter.default is None or kind != annotation


def _one_number(name: str, value: Any, kind: str) -> Any:
    """An argument that is one number, and whole if its kind says so."""
    if isinstance(value, int) or (isinstance(value, float) and kind != "int"):
        return value
    if isinstance(value, (xr.DataArray, np.ndarray, np.generic)):
        if value.ndim or value.dtype.kind not in "fiub":
            along = "" if not isinstance(value, xr.DataArray) else f" along {', '.join(map(str, value.dims))}"
            raise RangeError(f"{name} is one number, not an array{along}: take one value of it")
        value = value.item()
    elif not isinstance(value, float):
        raise RangeError(f"{name} is one number, not {quote(value)}")
    if kind != "int":
        return value
    if not float(value).is_integer():
        raise RangeError(f"{name} is a whole number, not {value:g}")
    return int(value)


def _one_array(name: str, value: Any, kind: type) -> Any:
    """An argument that is an array, or a number that can stand for one without dimensions."""
    if kind is xr.DataArray and isinstance(value, (int, float)):
        return xr.DataArray(float(value))
    _require_array(name, value, kind)
    return value


def _require_array(name: str, value: Any, kind: type) -> None:
    """Refuse what has no named dimensions, or holds several variables where one is meant."""
    if isinstance(value, kind):
        return
    advice = ""
    if kind is xr.DataArray and isinstance(value, xr.Dataset):
        advice = f"take one of its variables: {', '.join(map(str, value.data_vars)) or 'it has none'}"
    elif kind is xr.DataArray:
        advice = "spectralbench.spectrum(values, wavelength, quantity) makes one of a spectrum"
    said = f"{name} is an xarray.{kind.__name__}, not a {type(value).__name__}"
    raise GridError(f"{said}; {advice}" if advice else said)


def declares(
    returns: str | None = None, *, own_grid: tuple[str, ...] = (), **arguments: str
) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Declare the units that a function takes and returns.

    On the way in, strings with units and arrays in other units are converted, plain numbers
    and arrays without units are taken as declared, and every array with a wavelength
    dimension is checked and turned to run upwards. All arrays that share the dimension must
    have exactly the same grid. On the way out the result is stamped.

    What the annotations promise is checked as well: an ``xr.DataArray`` is one, or a number that
    becomes one without dimensions; an ``xr.Dataset`` is one; a ``float`` is one number, an ``int``
    is whole (``1e3`` is); and only what may be missing is None.

    Parameters
    ----------
    returns : str, optional
        Unit of the result; without it the function stamps its own result.
    own_grid : tuple of str
        Arguments that keep a wavelength grid of their own.
    **arguments : str
        Unit of each argument; ``"*"`` leaves the unit as it is, and makes an array with its unit
        of a text.

    Returns
    -------
    callable
        The decorator.

    Raises
    ------
    UnitsError
        From the decorated function, for all arguments of one call together.
    GridError
        From the decorated function, if grids differ or are not in order, or what should be an
        array is none.
    RangeError
        From the decorated function, if what should be one number is none, or not whole.

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
        known = {name: _kind(parameter) for name, parameter in signature.parameters.items()}
        arrays = {name: _ARRAYS[kind] for name, (kind, _) in known.items() if kind in _ARRAYS}
        numbers = {name: kind for name, (kind, _) in known.items() if kind in _NUMBERS}
        needed = {name for name in (*arguments, *arrays, *numbers) if not known[name][1]}

        @functools.wraps(function)
        def at_the_door(*args: P.args, **kwargs: P.kwargs) -> R:
            bound = signature.bind(*args, **kwargs)
            said = f"{function.__name__}(): "
            for name, value in bound.arguments.items():
                several = isinstance(value, tuple)  # *arguments arrive as a tuple
                if name in needed and (value is None or (several and any(item is None for item in value))):
                    raise RangeError(f"{said}{name} is missing: it is None")
                if name in arrays and value is not None:
                    bound.arguments[name] = _one_array(said + name, value, arrays[name])
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
                raise UnitsError(said + "; ".join(faults))
            if len(on_one_grid) > 1:
                _require_one_grid(on_one_grid)
            for name, kind in numbers.items():
                if bound.arguments.get(name) is not None:
                    bound.arguments[name] = _one_number(said + name, bound.arguments[name], kind)
            try:
                with cast(Any, xr.set_options)(arithmetic_join="exact"):  # nothing shrinks in silence
                    result = function(*bound.args, **bound.kwargs)
            except xr.AlignmentError as error:
                raise GridError(f"{said}the arguments do not fit together: {error}") from error
            if returns is not None and isinstance(result, xr.DataArray):
                result.attrs["units"] = returns
            return result

        cast("Any", at_the_door).declared_units = {**arguments, "return": returns}
        return at_the_door

    return decorate
