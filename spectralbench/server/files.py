"""Which file a request may read, and where it may begin something new: below the server's root only."""

from __future__ import annotations

import stat
from pathlib import Path
from typing import Any

from jupyter_server.utils import ensure_async
from tornado.web import HTTPError

LARGEST = 64 * 2**20  # bytes; a table of a million rows is smaller


async def file_of(contents: Any, path: str) -> Path:
    """The file that the server's contents know under a path.

    Parameters
    ----------
    contents : jupyter_server.services.contents.manager.ContentsManager
        Of the server, with files on a disk.
    path : str
        As the file browser shows it, from the server's root, with ``/`` between folders.

    Returns
    -------
    pathlib.Path
        The file itself, all links followed.

    Raises
    ------
    tornado.web.HTTPError
        404 for all that is no file below the root, whatever the reason: hidden files that the server
        does not show, links that lead out of it, folders, pipes. 413 for a file that is too large.
    """
    root = getattr(contents, "root_dir", None)
    missing = HTTPError(404, "no such file below the server's root")
    if not root or not path or "\0" in path:
        raise missing
    try:
        if not contents.allow_hidden and await ensure_async(contents.is_hidden(path)):
            raise missing
        base = Path(root).resolve(strict=True)
        file = base.joinpath(path.strip("/")).resolve(strict=True)
        status = file.stat()
    except (OSError, ValueError, RuntimeError):  # RuntimeError: links that go in a circle
        raise missing from None
    if not file.is_relative_to(base) or not stat.S_ISREG(status.st_mode):
        raise missing
    if status.st_size > LARGEST:
        size = f"{status.st_size / 2**20:.0f} MB, and at most {LARGEST // 2**20} MB are opened here"
        raise HTTPError(413, f"the file has {size}: read it in a notebook, or split it")
    return file


async def place_of(contents: Any, path: str) -> Path:
    """The folder that the server's contents know under a path, or would know if it were made.

    Parameters
    ----------
    contents : jupyter_server.services.contents.manager.ContentsManager
        Of the server, with files on a disk.
    path : str
        As the file browser shows it, from the server's root, with ``/`` between folders; empty for the
        root itself.

    Returns
    -------
    pathlib.Path
        The folder, all links followed; it need not be there.

    Raises
    ------
    tornado.web.HTTPError
        404 for all that is no place for a folder below the root, whatever the reason: names that go up or
        hide, links that lead out of it, names that another system takes for a path.
    """
    root = getattr(contents, "root_dir", None)
    missing = HTTPError(404, "no place for a folder below the server's root")
    parts = path.strip("/").split("/") if path.strip("/") else []
    if not root or not path.isprintable() or any(set(part) & set(_NOT_IN_NAMES) for part in parts):
        raise missing
    if any(not part or part in (".", "..") or _hides(part, contents) for part in parts):
        raise missing
    try:
        if not contents.allow_hidden and await ensure_async(contents.is_hidden("/".join(parts))):
            raise missing
        base = Path(root).resolve(strict=True)
        place = base.joinpath(*parts).resolve()
    except (OSError, ValueError, RuntimeError):
        raise missing from None
    if not place.is_relative_to(base):
        raise missing
    return place


_NOT_IN_NAMES = "\\:"  # of folders, for a path may go to a system on which they part it


def _hides(part: str, contents: Any) -> bool:
    return part.startswith(".") and not contents.allow_hidden
