"""The package's public names with their documentation, for whoever looks one up while writing."""

from __future__ import annotations

import asyncio
import importlib
import inspect
import json
from contextlib import suppress
from functools import cache

from jupyter_server.auth.decorator import authorized
from jupyter_server.base.handlers import APIHandler
from tornado.web import authenticated

import spectralbench as sb


@cache
def names() -> list[dict[str, str]]:
    """Every public name that is documented.

    Returns
    -------
    list of dict
        Of each its ``name``, how it is ``called`` in full (without types), ``first`` line, ``docstring``, and
        the ``call`` that somebody begins with: what it cannot do without, by the names of its parameters.

    Examples
    --------
    >>> calls = {one["name"]: one["call"] for one in names()}
    >>> calls["through"], calls["pictures.spectra"]
    ('sb.through(spectrum, *layers)', 'sb.pictures.spectra(data)')
    """
    found = []
    for name, value in _public():
        text = inspect.getdoc(value) or ""
        place, _, own = name.rpartition(".")
        signature, call = _signature(own, value)
        if place == "widgets":
            called, call = own, f"from spectralbench.widgets import {own}\n{call}"
        else:
            called, call = f"sb.{name}", f"sb.{name.removesuffix(own)}{call}"
        first = text.partition("\n")[0]
        found.append(
            {"name": name, "called": called + signature, "first": first, "docstring": text, "call": call}
        )
    return found


def _public() -> list[tuple[str, object]]:
    """What is public, as somebody writes it after ``sb.``; and the widgets, where they can be used."""
    homes = {"": sb, "pictures.": sb.pictures}
    with suppress(ImportError):
        homes["widgets."] = importlib.import_module("spectralbench.widgets")
    found = [
        (f"{home}{name}", getattr(module, name)) for home, module in homes.items() for name in module.__all__
    ]
    return sorted(((name, value) for name, value in found if callable(value)), key=lambda one: one[0].lower())


def _signature(name: str, value: object) -> tuple[str, str]:
    """How a name is called in full, and with what it cannot do without."""
    if isinstance(value, type) and issubclass(value, Exception):
        return "", name  # to be caught, and hardly ever made
    taken = inspect.signature(value)  # type: ignore[arg-type]
    plain = [one.replace(annotation=inspect.Parameter.empty) for one in taken.parameters.values()]
    needed = [
        f"{one.name}={one.name}" if one.kind is one.KEYWORD_ONLY else str(one)
        for one in plain
        if one.default is one.empty and one.kind is not one.VAR_KEYWORD
    ]
    whole = str(taken.replace(parameters=plain, return_annotation=inspect.Signature.empty))
    return whole, f"{name}({', '.join(needed)})"


class NamesHandler(APIHandler):
    """The public names."""

    auth_resource = "contents"

    @authenticated
    @authorized
    async def get(self) -> None:
        """Answer with the names in JSON."""
        found = await asyncio.get_running_loop().run_in_executor(None, names)
        self.finish(json.dumps(found, ensure_ascii=False), set_content_type="application/json; charset=UTF-8")
