"""What layers are made of, as far as heat is concerned."""

from __future__ import annotations

import math
from dataclasses import dataclass

from spectralbench import curves
from spectralbench.errors import RangeError, quote
from spectralbench.units import measured

_UNITS = {"conductivity": "W m-1 K-1", "density": "kg m-3", "heat_capacity": "J kg-1 K-1"}


@dataclass(frozen=True)
class Material:
    """Thermal properties of a material; they do not change with temperature.

    Parameters
    ----------
    conductivity : float or str
        Thermal conductivity [W m-1 K-1].
    density : float or str
        Density [kg m-3].
    heat_capacity : float or str
        Specific heat capacity [J kg-1 K-1].
    caution : str
        What is to be said beside every figure that rests on them.

    Raises
    ------
    RangeError
        If a property is not positive.
    UnitsError
        If one is in a unit of another kind.

    Examples
    --------
    >>> plate = Material("0.2 W/m/K", 1200, "1.2 J/g/K")
    >>> plate.heat_capacity, round(plate.effusivity, 3)
    (1200.0, 536.656)
    """

    conductivity: float | str
    density: float | str
    heat_capacity: float | str
    caution: str = ""

    def __post_init__(self) -> None:
        for name, units in _UNITS.items():
            value = measured(getattr(self, name), units).value
            if not value > 0:
                raise RangeError(
                    f"the {name.replace('_', ' ')} of a material is above 0 {units}, not {value:g}"
                )
            object.__setattr__(self, name, value)

    @classmethod
    def named(cls, name: str) -> Material:
        """Take a material from the reference table, with its warning.

        Parameters
        ----------
        name : str
            Such as ``"PC"``: a material of the table ``thermal``.

        Returns
        -------
        Material
            Its properties and their caution.

        Raises
        ------
        RangeError
            If the table has no such material.

        Warns
        -----
        FromMemoryWarning
            As long as the table is from memory.

        Examples
        --------
        >>> import warnings
        >>> with warnings.catch_warnings():
        ...     warnings.simplefilter("ignore")
        ...     Material.named("PC").conductivity
        0.2
        """
        found = curves.thermal(name)
        values = [float(found[key]) for key in _UNITS]
        caution = found.attrs.get("caution", "")
        name = str(found.coords["material"].item())
        return cls(values[0], values[1], values[2], f"{name}, {caution}" if caution else "")

    @property
    def diffusivity(self) -> float:
        """How fast warmth spreads [m2 s-1]."""
        return float(self.conductivity) / self.capacity

    @property
    def capacity(self) -> float:
        """Heat capacity by volume [J m-3 K-1]."""
        return float(self.density) * float(self.heat_capacity)

    @property
    def effusivity(self) -> float:
        """What a surface sets against a flux of heat [W s1/2 m-2 K-1]."""
        return math.sqrt(float(self.conductivity) * self.capacity)


@dataclass(frozen=True)
class Layer:
    """One layer of a stack, in the order in which the light meets them.

    Parameters
    ----------
    name : str
        What tells it from the other layers.
    thickness : float or str
        Thickness [m].
    material : Material or str
        What it is made of, or a name for `Material.named`.
    attenuation : float or str
        Where in it light turns to heat: ∝ exp(-attenuation · depth in the layer) [m-1], Napierian.
        0, the default, is evenly; ``math.inf`` is at its front face, as on metal.

    Raises
    ------
    RangeError
        If the name is empty, the thickness is not positive, or the attenuation is negative.
    UnitsError
        If one is in a unit of another kind.

    Examples
    --------
    >>> Layer("bond line", "250 um", Material(0.2, 1100, 1800)).thickness
    0.00025
    """

    name: str
    thickness: float | str
    material: Material | str
    attenuation: float | str = 0.0

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise RangeError("a layer has a name that tells it from the others, such as bond line")
        thickness = measured(self.thickness, "m").value
        if not thickness > 0:
            raise RangeError(f"the thickness of {quote(self.name)} is above 0 m, not {thickness:g}")
        attenuation = self.attenuation
        if attenuation != math.inf:
            attenuation = measured(attenuation, "m-1").value
        if not float(attenuation) >= 0:
            raise RangeError(
                f"the attenuation of {quote(self.name)} is 0 m-1 or more, not {float(attenuation):g}: "
                "list layers in the order in which the light meets them"
            )
        object.__setattr__(self, "thickness", thickness)
        object.__setattr__(self, "attenuation", attenuation)
        object.__setattr__(self, "material", properties(self.material))


def properties(of: Material | str) -> Material:
    """A material, whether it is given or only named.

    Parameters
    ----------
    of : Material or str
        A material, or a name for `Material.named`.

    Returns
    -------
    Material
        The material.

    Examples
    --------
    >>> properties(Material(0.2, 1200, 1200)).capacity
    1440000.0
    """
    return Material.named(of) if isinstance(of, str) else of


def cautions(*materials: Material) -> dict[str, str]:
    """The attribute ``caution`` of what rests on materials.

    Parameters
    ----------
    *materials : Material
        The materials.

    Returns
    -------
    dict
        Empty if none has a caution.

    Examples
    --------
    >>> cautions(Material(0.2, 1200, 1200, "from a data sheet"))
    {'caution': 'from a data sheet'}
    """
    said = dict.fromkeys(one.caution for one in materials if one.caution)
    return {"caution": "; ".join(said)} if said else {}
