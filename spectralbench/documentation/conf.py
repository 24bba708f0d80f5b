"""How the pages are built: `make docs`. Nothing is fetched, neither here nor where they are opened."""

from __future__ import annotations

import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))  # for the directives that stand beside this file
os.environ["COLUMNS"] = "80"  # the width that the help of the command line is printed in

import spectralbench as sb

project = "spectralbench"
author = "The spectralbench developers"
release = version = sb.__version__

extensions = [
    "myst_parser",
    "sphinx.ext.autodoc",
    "sphinx.ext.napoleon",
    "names_in_docstrings",
    "topics",
    "command_line",
    "check_values",
    "formulas",
    "notebooks",
]
myst_enable_extensions = ["colon_fence", "deflist", "dollarmath"]
myst_heading_anchors = 3
myst_dmath_allow_digits = False
nitpicky = True
nitpick_ignore_regex = [
    ("py:class", r"(xarray|numpy|pathlib)\..*")
]  # types of others, in tables of attributes

autodoc_typehints = "none"  # docstrings say what is taken, with shapes and units
autodoc_member_order = "alphabetical"
napoleon_google_docstring = False
napoleon_use_param = False
napoleon_use_rtype = False
napoleon_use_ivar = False

smartquotes = False  # what is quoted is often code, to be copied

html_theme = "furo"
html_title = f"spectralbench {release}"
html_static_path = ["_static"]
html_css_files = ["pages.css"]
html_js_files = ["reachable.js"]
html_math_renderer = "mathml"
html_show_sphinx = False
html_show_copyright = False
html_copy_source = False
html_show_sourcelink = False
templates_path: list[str] = []
exclude_patterns = ["_static"]
