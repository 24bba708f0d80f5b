"""Widgets for notebooks: Python computes, the browser draws.

They take ``pip install "spectralbench[lab]"`` and run in JupyterLab, Notebook and wherever else
anywidget does.
"""

try:
    import anywidget as _  # noqa: F401
except ImportError as error:
    raise ImportError('the widgets take anywidget: pip install "spectralbench[lab]"') from error

from spectralbench.widgets.frame_check import FrameCheck
from spectralbench.widgets.light_path import LightPath
from spectralbench.widgets.transmission import Transmission

__all__ = ["FrameCheck", "LightPath", "Transmission"]
