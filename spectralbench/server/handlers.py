"""Requests and their answers: who may ask, what they get, and what they are told if they do not."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from jupyter_server.auth.decorator import authorized
from jupyter_server.base.handlers import APIHandler
from tornado.web import HTTPError, authenticated

from spectralbench.errors import ReadError, SpectralBenchError
from spectralbench.payload import USUAL, of_spectra
from spectralbench.server.files import file_of
from spectralbench.server.reading import faults_of, figures_in, spectra_of

T = TypeVar("T")


class _FileHandler(APIHandler):
    """Something about one file, named by ``path``."""

    auth_resource = "contents"

    async def answered(self, work: Callable[[Path, str], T]) -> T | None:
        """What is to be said of the file; None if a refusal has been said instead."""
        path = self.get_query_argument("path", "")
        file = await file_of(self.contents_manager, path)
        name = path.rsplit("/", 1)[-1]
        try:
            return await asyncio.get_running_loop().run_in_executor(None, work, file, name)
        except ReadError as error:
            self.set_status(422)
            self.finish(json.dumps(faults_of(error, file, name), ensure_ascii=False))
        except SpectralBenchError as error:
            self.set_status(400)
            self.finish(json.dumps({"message": str(error)}, ensure_ascii=False))
        return None


class SpectraHandler(_FileHandler):
    """A file as a payload, perhaps with a wish for the unit of ``irradiance``."""

    @authenticated
    @authorized
    async def get(self) -> None:
        """Answer with the payload of `spectralbench.payload.of_spectra`."""
        irradiance = self.get_query_argument("irradiance", USUAL)
        data = await self.answered(lambda file, name: of_spectra(name, spectra_of(file), irradiance))
        if data is not None:
            self.set_header("Content-Type", "application/octet-stream")
            self.finish(data, set_content_type="application/octet-stream")


class FiguresHandler(_FileHandler):
    """Figures in a band, by ``quantity``, ``low``, ``high``, and perhaps ``block`` and ``irradiance``."""

    @authenticated
    @authorized
    async def get(self) -> None:
        """Answer with the figures in JSON."""
        low, high = self._limit("low"), self._limit("high")
        quantity, block = self.get_query_argument("quantity", ""), self.get_query_argument("block", "")
        irradiance = self.get_query_argument("irradiance", USUAL)
        found = await self.answered(
            lambda file, _: figures_in(spectra_of(file), quantity, low, high, block, irradiance)
        )
        if found is not None:
            self.finish(json.dumps(found, ensure_ascii=False, allow_nan=False))

    def _limit(self, name: str) -> float:
        stated: Any = self.get_query_argument(name, "")
        try:
            return float(stated)
        except ValueError:
            raise HTTPError(400, f"{name} is a wavelength in nm, not {stated[:40]!r}") from None
