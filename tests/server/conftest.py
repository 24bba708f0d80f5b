"""Jupyter servers of our own, with our extension and nobody else's settings."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import pytest

# Who is root may write everywhere, unless the rights to pass over permissions are taken away.
WEAKER = ["setpriv", "--inh-caps=-all", "--bounding-set=-dac_override,-dac_read_search"]


@pytest.fixture(scope="module")
def serve(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[[Path, str], str]]:
    """Serve a folder to who has a token; gives the address."""
    with ExitStack() as running:
        yield lambda root, token: running.enter_context(
            _serving(root, token, tmp_path_factory.mktemp("home"))
        )


@contextmanager
def _serving(root: Path, token: str, home: Path) -> Iterator[str]:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port = one.getsockname()[1]
    names = ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR", "HOME")
    log = (home / "log").open("w", encoding="utf-8")
    weaker = WEAKER if os.geteuid() == 0 and shutil.which(WEAKER[0]) else []
    started = subprocess.Popen(
        [
            *weaker,
            *(sys.executable, "-m", "jupyter_server", "--no-browser", "--ip=127.0.0.1", f"--port={port}"),
            *("--ServerApp.port_retries=0", f"--IdentityProvider.token={token}", "--allow-root"),
            f"--ServerApp.root_dir={root}",
            "--ServerApp.jpserver_extensions={'spectralbench.server': True}",
        ],
        env=os.environ | {name: str(home / name) for name in names} | {"JUPYTER_NO_CONFIG": "1"},
        stdout=log,
        stderr=log,
        cwd=root,
    )
    address = f"http://127.0.0.1:{port}/"
    try:
        for _ in range(900):  # a busy machine takes its time
            if started.poll() is not None:
                break
            try:
                urllib.request.urlopen(f"{address}api?token={token}", timeout=2).close()
                break
            except OSError:
                time.sleep(0.1)
        else:
            pytest.fail((home / "log").read_text(encoding="utf-8"))
        assert started.poll() is None, (home / "log").read_text(encoding="utf-8")
        yield address
    finally:
        started.terminate()
        started.wait(10)
        log.close()
