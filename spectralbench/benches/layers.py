"""What the light of a bench warms: its parts, the bond line and what lies behind, as layers."""

from __future__ import annotations

import warnings

from spectralbench.benches.schema import Manifest, Thermal
from spectralbench.comparison import Stack
from spectralbench.heat import Layer, Material
from spectralbench.heat.materials import properties


def stack_of(manifest: Manifest) -> Stack | None:
    """The layers of a bench, if it says enough of them for a temperature.

    Parameters
    ----------
    manifest : Manifest
        The manifest of the bench.

    Returns
    -------
    Stack or None
        None without the table ``heat``, or if the thermal properties of a part or of the adhesive
        are not stated.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> stack_of(read_manifest(demo)[0]).backing.name
    'base plate'
    """
    heat, adhesive = manifest.heat, manifest.adhesive
    if heat is None or adhesive.thermal is None:
        return None
    parts = [
        Layer(part.name, (part.working_thickness or part.thickness).value / 1e3, _material(part.thermal))
        for part in manifest.part
        if part.thermal is not None
    ]
    if len(parts) < len(manifest.part):
        return None
    backing, reaction, index = heat.backing, adhesive.reaction_heat, manifest.part[0].index
    return Stack(
        parts,
        Layer("bond line", adhesive.bond_line.value / 1e3, _material(adhesive.thermal)),
        None
        if backing is None
        else Layer(backing.name, backing.thickness.value / 1e3, _material(backing.thermal)),
        heat.ambient.value,
        heat.loss.value,
        None if index is None else index.value,
        0.0 if reaction is None else reaction.value,
    )


def cautions_of(stack: Stack) -> list[str]:
    """What is to be said of the materials of a stack.

    Parameters
    ----------
    stack : Stack
        From `stack_of`.

    Returns
    -------
    list of str
        One sentence for each material from memory.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> cautions_of(stack_of(read_manifest(demo)[0]))
    []
    """
    layers = [*stack.parts, stack.bond_line, *([] if stack.backing is None else [stack.backing])]
    found = dict.fromkeys(properties(layer.material).caution for layer in layers)
    return [f"thermal properties of {caution}" for caution in found if caution]


def _material(thermal: Thermal) -> Material:
    """A material; what the table says of its standing comes with it, and is shown with the result."""
    if thermal.material is not None:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return Material.named(thermal.material)
    stated = (thermal.conductivity, thermal.density, thermal.heat_capacity)
    conductivity, density, heat_capacity = (one.value for one in stated if one is not None)
    return Material(conductivity, density, heat_capacity)
