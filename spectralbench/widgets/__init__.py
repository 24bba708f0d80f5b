"""Widgets for notebooks: Python computes, the browser draws.

They take ``pip install "spectralbench[lab]"`` and run in JupyterLab, Notebook and wherever else
anywidget does.
"""

from spectralbench.widgets.light_path import LightPath

__all__ = ["LightPath"]
