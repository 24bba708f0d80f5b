"""The package's public names with their documentation, for whoever looks one up while writing."""

from __future__ import annotations

import asyncio
import inspect
import json
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
        Of each its ``name``, ``signature`` (without types), ``first`` line, ``docstring``, and the ``call``
        that somebody begins with: what it cannot do without, by the names of its parameters.

    Examples
    --------
    >>> {one["name"]: one["call"] for one in names()}["through"]
    'sb.through(spectrum, *layers)'
    """
    found = []
    for name in sorted(sb.__all__, key=str.lower):
        value = getattr(sb, name)
        if not callable(value):
            continue
        text = inspect.getdoc(value) or ""
        signature, call = _signature(name, value)
        first = text.partition("\n")[0]
        found.append(
            {"name": name, "signature": signature, "first": first, "docstring": text, "call": f"sb.{call}"}
        )
    return found


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
