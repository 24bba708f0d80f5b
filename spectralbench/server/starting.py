"""Requests for something new: a bench, or a notebook that runs already."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path
from typing import Any

from jupyter_server.auth.decorator import authorized
from jupyter_server.base.handlers import APIHandler
from tornado.web import HTTPError, authenticated

from spectralbench.benches.starting import TEMPLATES, start_bench, start_notebook
from spectralbench.errors import BenchError, quote
from spectralbench.server.files import place_of


class NewHandler(APIHandler):
    """Something new, by ``what`` ("bench", or the name of a notebook) and ``folder``.

    A bench is made in that folder, which must be new or empty; a notebook is put into it.
    """

    auth_resource = "contents"

    @authenticated
    @authorized
    async def post(self) -> None:
        """Answer with the ``path`` of what is to be opened, as the file browser shows it."""
        what, folder = self._asked()
        place = await place_of(self.contents_manager, folder)
        if what == "bench" and not folder:
            raise HTTPError(400, "a bench needs a folder of its own: name a new one")
        if what != "bench" and not place.is_dir():
            raise HTTPError(404, "no such folder below the server's root")
        try:
            name = await asyncio.get_running_loop().run_in_executor(None, _made, what, place)
        except BenchError as error:
            self.set_status(409)
            said = str(BenchError(folder or "the folder", error.faults))  # where it lies is not told
            self.finish(json.dumps({"message": said}, ensure_ascii=False))
            return
        self.set_status(201)
        self.finish(json.dumps({"path": f"{folder}/{name}".lstrip("/")}, ensure_ascii=False))

    def _asked(self) -> tuple[str, str]:
        body: Any = self.get_json_body()
        what, folder = (body.get("what"), body.get("folder")) if isinstance(body, dict) else (None, None)
        if not isinstance(what, str) or not isinstance(folder, str):
            raise HTTPError(400, "two texts are needed, what and folder")
        if what != "bench" and what not in TEMPLATES:
            raise HTTPError(400, f"{quote(what)} is neither bench nor one of {', '.join(TEMPLATES)}")
        return what, folder.strip("/")


def _made(what: str, place: Path) -> str:
    """Make it; the name of what is opened, within the folder."""
    if what != "bench":
        return start_notebook(what, place).name
    start_bench(place)
    return "bench.toml"
