"""Each example notebook is run once, in an empty folder, and saved as JupyterLab saves it."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

FOLDER = Path(__file__).parents[2] / "example_notebooks"
LONGEST = 60.0  # s


def _printed(notebook: nbformat.NotebookNode) -> str:
    """What the cells print; one line may come in several pieces, as a busy kernel sends them."""
    return "\n".join(
        "".join(output.get("text", "") for output in cell.get("outputs", [])) for cell in notebook.cells
    )


@pytest.fixture(scope="session")
def printed() -> Callable[[nbformat.NotebookNode], str]:
    """What the cells of a notebook that was run have printed."""
    return _printed


@pytest.fixture(scope="session")
def run_notebook(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], nbformat.NotebookNode]:
    """Run an example notebook, by its name without its ending, and hold what each of them has to hold.

    Its folder and its seconds stand in ``notebook.metadata.run``.
    """
    done: dict[str, nbformat.NotebookNode] = {}

    def run(name: str) -> nbformat.NotebookNode:
        if name not in done:
            folder = tmp_path_factory.mktemp(name) / "here"
            folder.mkdir()
            notebook = nbformat.read(FOLDER / f"{name}.ipynb", as_version=4)
            where = {"metadata": {"path": str(folder)}}
            began = time.perf_counter()
            # The state of widgets takes a kernel, and pages would look for its script abroad.
            NotebookClient(notebook, timeout=LONGEST, resources=where, store_widget_state=False).execute()
            seconds = time.perf_counter() - began
            notebook.metadata.run = {"seconds": seconds, "folder": str(folder)}
            assert list(folder.parent.iterdir()) == [folder]  # nothing is written beside it
            done[name] = notebook
        notebook = done[name]
        outputs = [output for cell in notebook.cells for output in cell.get("outputs", [])]
        assert not [output for output in outputs if output.get("name") == "stderr"]
        assert notebook.metadata.run["seconds"] < LONGEST
        return notebook

    return run
