"""Each example notebook is run once, in an empty folder, and saved as JupyterLab saves it."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
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
def execute(
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Callable[[nbformat.NotebookNode, Path], None]]:
    """Run all cells of a notebook in a folder.

    One kernel serves them all, so that what they import is loaded once; no name lasts from one to the next.
    """
    # The state of widgets takes a kernel, and pages would look for its script abroad.
    client = NotebookClient(nbformat.v4.new_notebook(), timeout=LONGEST, store_widget_state=False)

    def run(notebook: nbformat.NotebookNode, folder: Path) -> None:
        moved = f"%reset -f\nimport os\nos.chdir({str(folder)!r})\ndel os"
        notebook.cells.insert(0, nbformat.v4.new_code_cell(moved))
        client.nb = notebook
        client.reset_execution_trackers()
        for number, cell in enumerate(list(notebook.cells)):
            client.execute_cell(cell, number)
        del notebook.cells[0]

    with client.setup_kernel(cwd=str(tmp_path_factory.mktemp("kernel"))):
        yield run


@pytest.fixture(scope="session")
def run_notebook(
    execute: Callable[[nbformat.NotebookNode, Path], None], tmp_path_factory: pytest.TempPathFactory
) -> Callable[[str], nbformat.NotebookNode]:
    """Run an example notebook, by its name without its ending, and hold what each of them has to hold.

    Its folder and its seconds stand in ``notebook.metadata.run``.
    """
    done: dict[str, nbformat.NotebookNode] = {}

    def run(name: str) -> nbformat.NotebookNode:
        if name not in done:
            folder = tmp_path_factory.mktemp(name) / "here"
            folder.mkdir()
            notebook = nbformat.read(FOLDER / f"{name}.ipynb", as_version=4)
            began = time.perf_counter()
            execute(notebook, folder)
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
