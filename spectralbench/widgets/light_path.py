"""The light path of a bench in a notebook: turn its controls and watch what arrives at the bond line."""

from __future__ import annotations

import asyncio
import logging
import sys
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from os import PathLike
from typing import Any

import traitlets
import xarray as xr

from spectralbench.benches import compare, reduce_bench
from spectralbench.benches.adjusting import with_adjustments
from spectralbench.benches.adjustments import Adjustments, adjustments
from spectralbench.benches.crossing import CRITERIA
from spectralbench.benches.folder import manifest_of, open_bench
from spectralbench.benches.reaches import refuse_unknown
from spectralbench.benches.reducing import is_reduced
from spectralbench.benches.together import candidates
from spectralbench.comparison import FIGURES
from spectralbench.errors import RangeError, SpectralBenchError, quote
from spectralbench.pictures.still import of_light_path
from spectralbench.reports.records import of_comparison
from spectralbench.widgets.bundles import bundle
from spectralbench.widgets.controls import changes_of, controls_of, plain
from spectralbench.widgets.following import followed
from spectralbench.widgets.talk import REFUSED, TURNED, Talk
from spectralbench.widgets.turning import Turning
from spectralbench.widgets.values import Refused, Whole

_DRAWS = 200  # enough for intervals of two digits, and quick
_WAIT = 0.25  # s without another turn, after which sources are compared
_DICTS = ("thickness", "distance", "hours", "level")
_SHORT = 0.0005  # s between the turns of two threads, while one compares
_COLUMNS = (
    "band_irradiance",
    "kept_share",
    "absorbed_photons",
    "exposure_time",
    "peak_temperature",
    "hours_left",
)


_log = logging.getLogger(__name__)
_WORKER = ThreadPoolExecutor(1, "spectralbench comparison")  # one for all widgets: they share the processor


class LightPath(Talk):
    """The light path of a bench, with its controls, its strips and its comparison.

    Parameters
    ----------
    bench : xarray.DataTree, str or path
        From `spectralbench.open_bench`, or the folder itself; or from `spectralbench.reduce_bench`,
        which then keeps the draws that it has.
    draws : int
        Draws of the comparison; with 0, figures without intervals.
    seed : int
        Seed of the draws.

    Attributes
    ----------
    thickness : dict
        Of each part [mm], by its name. Every dictionary may be set in part, and with texts such as
        ``{"cover": "1.5 mm"}``; what is not named stands as on the bench.
    distance, hours, level : dict
        Of each source [mm], [h], [%], by its name.
    time : float
        Longest exposure [s]; 0 for as long as it takes.
    shown : list of str
        Sources whose curves are shown.
    sweep : dict
        ``criterion``, ``control`` and, of a thickness, ``of``: one figure along one control; empty for none.
    result : xarray.Dataset
        The comparison of the bench as it stands now, from `spectralbench.compare`.

    Raises
    ------
    BenchError
        If the bench cannot be opened or reduced.

    Examples
    --------
    >>> path = LightPath(demo, draws=0)
    >>> path.thickness = {"cover": "1 mm"}
    >>> path.result.verdict.sel(source="LED 365", criterion="irradiance").item()
    'met'
    """

    kind = "light_path"
    _esm, _css = bundle(kind)

    thickness = traitlets.Dict().tag(**TURNED)
    distance = traitlets.Dict().tag(**TURNED)
    hours = traitlets.Dict().tag(**TURNED)
    level = traitlets.Dict().tag(**TURNED)
    time = traitlets.Any(0.0).tag(**TURNED)
    shown = traitlets.List(traitlets.Unicode()).tag(**TURNED)
    sweep = traitlets.Dict().tag(**TURNED)

    controls = traitlets.List(traitlets.Dict()).tag(sync=True)
    sources = traitlets.List(traitlets.Dict()).tag(sync=True)
    sent = traitlets.Bytes().tag(sync=True)
    passed = traitlets.Bytes().tag(sync=True)
    absorbed = traitlets.Bytes().tag(sync=True)
    comparison = traitlets.Dict().tag(sync=True)
    swept = traitlets.Bytes().tag(sync=True)

    result = Whole(xr.Dataset, allow_none=True)

    _number = 0  # of the newest turn
    _waiting: asyncio.TimerHandle | None = None
    _from_browser = _held = False

    def __init__(self, bench: xr.DataTree | str | PathLike[str], draws: int = _DRAWS, seed: int = 1) -> None:
        opened = bench if isinstance(bench, xr.DataTree) else open_bench(bench)
        if "adjusted" in opened.attrs:
            raise RangeError(
                "this bench is taken otherwise already: give the bench as it is, and turn it here"
            )
        self._tree = reduce_bench(opened) if is_reduced(opened) else reduce_bench(opened, draws, seed)
        plain_tree = self._tree if is_reduced(opened) or draws == 0 else reduce_bench(opened)
        self._manifest = manifest_of(self._tree)
        self._turning = Turning(plain_tree)
        controls = controls_of(self._tree)
        self._bench: dict[str, dict[str, Any]] = {}
        for one in controls:
            if not one["fixed"]:
                self._bench.setdefault(one["control"], {})[one["of"]] = one["bench"]
        names = candidates(self._manifest)
        super().__init__(
            controls=controls,
            sources=[self._source(i, name) for i, name in enumerate(names)],
            shown=names,
            time=self._bench["time"][""],
            **{control: self._bench.get(control, {}) for control in _DICTS},
        )
        self.observe(self._turned, [*_DICTS, "time", "sweep"])
        self._draw()
        self._compare()

    @property
    def tree(self) -> xr.DataTree:
        """The reduced bench as it stands now."""
        return with_adjustments(self._tree, self._changes())

    def _source(self, place: int, name: str) -> dict[str, Any]:
        one = next((source for source in self._manifest.source if source.name == name), None)
        if one is None:
            heads = next(group.heads for group in self._manifest.together if group.name == name)
            return {"name": name, "place": place, "told": " and ".join(head.source for head in heads)}
        return {"name": name, "place": place, "told": f"{one.kind}, {one.filter or 'no filter'}"}

    @traitlets.validate(*_DICTS)
    def _whole(self, proposal: dict[str, Any]) -> dict[str, Any]:
        """All values of a control, with those that were given; or why these cannot be."""
        control = proposal["trait"].name
        base = self._bench.get(control, {})
        given = self._plain(control, proposal["value"])
        self._refuse(changes_of({control: given}, {control: base}))
        return base | given

    @traitlets.validate("time")
    def _longest(self, proposal: dict[str, Any]) -> float:
        given = self._plain("time", {"": proposal["value"]})
        self._refuse({"time": given})
        return given[""]

    @traitlets.validate("shown")
    def _known(self, proposal: dict[str, Any]) -> list[str]:
        names = candidates(self._manifest)
        unknown = [name for name in proposal["value"] if name not in names]
        if unknown:
            raise Refused(f"there is no source {quote(unknown[0])}; there are {', '.join(map(quote, names))}")
        return [name for name in names if name in proposal["value"]]

    def _plain(self, control: str, values: Mapping[str, Any]) -> dict[str, float]:
        try:
            return plain(control, values)
        except RangeError as error:
            raise Refused(str(error)) from error

    def _refuse(self, changes: Adjustments) -> None:
        try:
            refuse_unknown(self._tree, self._manifest, adjustments(self._manifest, changes))
        except SpectralBenchError as error:
            raise Refused(str(error)) from error

    def _changes(self) -> Adjustments:
        stands = {control: dict(getattr(self, control)) for control in _DICTS} | {"time": {"": self.time}}
        return changes_of(stands, self._bench)

    def set_state(self, sync_data: dict[str, Any]) -> None:
        """Take over what the browser has turned; the comparison follows when it rests."""
        self._from_browser = True
        try:
            super().set_state(sync_data)
        finally:
            self._from_browser = False

    def turn(self, **controls: Any) -> None:
        """Set several controls, and compare once.

        Parameters
        ----------
        **controls
            Any of ``thickness``, ``distance``, ``hours``, ``level`` (one value for all, or a dictionary),
            ``time`` and ``sweep``.

        Raises
        ------
        RangeError
            If the bench does not answer for a value; then nothing is turned.

        Examples
        --------
        >>> path = LightPath(demo, draws=0)
        >>> path.turn(thickness={"cover": "1 mm"}, level={"LED 365": "80 %"}, time="10 s")
        >>> path.level["LED 365"], path.time
        (80.0, 10.0)
        """
        for name in controls:
            if name not in (*_DICTS, "time", "sweep"):
                known = ", ".join((*_DICTS, "time", "sweep"))
                raise RangeError(f"there is no control {quote(name)}; there are {known}")
        for name in _DICTS:
            if name in controls and not isinstance(controls[name], Mapping):  # one for all
                controls[name] = dict.fromkeys(self._bench.get(name, {}), controls[name])
        before = {name: getattr(self, name) for name in controls}
        self._held = True
        try:
            for name, value in controls.items():
                setattr(self, name, value)
        except SpectralBenchError:
            for name, value in before.items():
                setattr(self, name, value)
            raise
        finally:
            self._held = False
        self._number += 1  # what is still compared for a browser is out of date
        self._draw()
        self._compare()

    def _turned(self, change: dict[str, Any]) -> None:
        if self._held:
            return
        if change["name"] in _DICTS:
            self._draw()
        self._soon()

    def _draw(self) -> None:
        """Put what arrives into the payloads; those that stay alike are not sent again."""
        changes = self._changes()
        with self.hold_sync():
            self.sent = self._turning.sent(changes)
            self.passed = self._turning.passed(changes)
            self.absorbed = self._turning.absorbed(changes)

    def _soon(self) -> None:
        """Compare at once for Python; for somebody who turns, when the control rests, beside the kernel."""
        self._number += 1
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            loop = None
        if loop is None or not self._from_browser:
            self._compare()
            return
        self.state = "comparing"
        if self._waiting is not None:
            self._waiting.cancel()
        self._waiting = loop.call_later(_WAIT, self._start, loop)

    def _start(self, loop: asyncio.AbstractEventLoop) -> None:
        number, changes, sweep = self._number, self._changes(), dict(self.sweep)

        def work() -> None:
            if number != self._number:  # somebody has turned on
                return
            usual = sys.getswitchinterval()
            sys.setswitchinterval(_SHORT)  # so that the next turn need not wait for this
            try:
                found = self._found(changes, sweep)
            finally:
                sys.setswitchinterval(usual)
            loop.call_soon_threadsafe(self._show, number, found)

        _WORKER.submit(work)

    def _compare(self) -> None:
        self._show(self._number, self._found(self._changes(), dict(self.sweep)))

    def _found(self, changes: Adjustments, sweep: Mapping[str, Any]) -> dict[str, Any]:
        """Comparison and sweep of the bench with changes; or why there is none."""
        try:
            tree = with_adjustments(self._tree, changes)
            result = compare(tree)
            swept = followed(tree, sweep, self._bench) if sweep else b""
        except SpectralBenchError as error:
            return {"state": f"{REFUSED}{error}"}
        except Exception as error:  # beside the kernel nobody else would hear of it
            _log.exception("the comparison of a light path failed")
            return {"state": f"{REFUSED}{type(error).__name__}: {error}"}
        record = of_comparison(result)
        columns = [name for name in _COLUMNS if name in result and name in FIGURES]
        return {
            "result": result,
            "comparison": record
            | {
                "shown_figures": columns,
                "shown_criteria": list(record["criteria"]),  # a notebook sorts the keys that it saves
                "followed": [name for name in CRITERIA if name in record["criteria"]],
            },
            "swept": swept,
            "state": "",
        }

    def _show(self, number: int, found: dict[str, Any]) -> None:
        if number != self._number:
            return
        with self.hold_sync():
            for name, value in found.items():
                setattr(self, name, value)

    def close(self) -> None:
        """Let the browser forget the widget, and what it still compares."""
        self._number += 1
        if self._waiting is not None:
            self._waiting.cancel()
        super().close()

    def still(self) -> tuple[str, str]:
        """The strips with all figures, and the advice."""
        return of_light_path(self.tree, self.comparison)
