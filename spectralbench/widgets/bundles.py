"""What a widget runs in the browser: one script and one sheet of style, built from extension/."""

from __future__ import annotations

from pathlib import Path

STATIC = Path(__file__).parent / "static"
"""Where the build puts them."""

_MISSING = """export default {{ render({{ el }}) {{
  el.textContent = "The part of spectralbench for the browser is not built: run make extension ({name}.js).";
}} }};"""


def bundle(name: str) -> tuple[Path | str, Path | str]:
    """Script and style of a widget; a script that says what to do, where they were not built.

    Parameters
    ----------
    name : str
        Of the widget.

    Returns
    -------
    tuple of pathlib.Path or str
        Script and style.

    Examples
    --------
    >>> "run make extension" in bundle("none")[0]
    True
    """
    script, style = STATIC / f"{name}.js", STATIC / f"{name}.css"
    return script if script.is_file() else _MISSING.format(name=name), style if style.is_file() else ""
