"""Whether a frame may be used, seen at a glance in a notebook; scans are left out with a reason."""

from __future__ import annotations

from collections.abc import Mapping
from os import PathLike
from typing import Any

import numpy as np
import traitlets
import xarray as xr

from spectralbench.corrections import NoiseModel
from spectralbench.corrections.frame_checks import check_frame
from spectralbench.corrections.frame_words import CARE, GOOD, NOT, per_cent, sentence
from spectralbench.corrections.scans import leave_out
from spectralbench.errors import RangeError, SpectralBenchError, quote
from spectralbench.widgets.bundles import bundle
from spectralbench.widgets.frame_curves import apart_of, drawn, odd, plain, scans_of
from spectralbench.widgets.still_pictures import frame_picture
from spectralbench.widgets.taken_frames import TakenFrame, as_manifest, because, taken_in
from spectralbench.widgets.talk import REFUSED, TURNED, Talk
from spectralbench.widgets.values import Refused, Whole

_LEFT_OUT = "left out"


class FrameCheck(Talk):
    """Whether a frame may be used: its scans, what is odd about them, and which are left out.

    Parameters
    ----------
    frame : xarray.DataArray, xarray.Dataset, xarray.DataTree, str or path
        Raw counts ([spectrum,] wavelength) [1], or a bench, opened or as a folder.
    name : str, optional
        Of a bench, which frame: its file, its key in the manifest, or the name of a source.
    full_scale : float or str, optional
        Highest count that the converter can give [1]; a bench knows it.
    level : float or str
        Share of the full scale from which a pixel counts as saturated [1]; a bench knows it.
    dark : xarray.DataArray, optional
        Dark frame of raw counts [1]; a bench has its own.
    noise : NoiseModel, optional
        What is known of the noise of one scan; a bench may state it.
    left_out : mapping, optional
        Scans that are left out from the beginning, with their reasons.

    Attributes
    ----------
    left_out : dict
        Of scans that are left out, counted from 1, the reason in words.
    kept : xarray.DataArray
        The counts without them; its history says which were left out, and why.
    result : xarray.Dataset
        From `spectralbench.corrections.frame_checks.check_frame`, of the scans that are kept.

    Raises
    ------
    BenchError
        If the bench cannot be opened.
    RangeError
        If there is no such frame, or the full scale is missing.

    Examples
    --------
    >>> check = FrameCheck(demo, "LED 405")
    >>> check.left_out = {3: "lamp flickered"}
    >>> check.kept.sizes["spectrum"], check.check["words"]
    (7, 'may be used')
    >>> check.as_manifest()
    'frame = { file = "raw/led_405.csv", left_out = [3], because = "lamp flickered" }'
    """

    kind = "frame_check"
    _esm, _css = bundle(kind)

    left_out: traitlets.Dict[Any, Any] = traitlets.Dict().tag(**TURNED)

    scans = traitlets.Bytes().tag(sync=True)
    apart = traitlets.Bytes().tag(sync=True)
    check = traitlets.Dict().tag(sync=True)

    result = Whole(xr.Dataset, allow_none=True)

    def __init__(
        self,
        frame: xr.DataArray | xr.Dataset | xr.DataTree | str | PathLike[str],
        name: str | None = None,
        *,
        full_scale: float | str | None = None,
        level: float | str = 0.95,
        dark: xr.DataArray | None = None,
        noise: NoiseModel | None = None,
        left_out: Mapping[int, str] | None = None,
    ) -> None:
        if isinstance(frame, xr.DataArray | xr.Dataset):
            self._taken = _alone(frame, full_scale, level, dark, noise)
        else:
            self._taken = taken_in(frame, name)
        self._all = self._checked(self._taken.counts)
        super().__init__(left_out=self._stated() if left_out is None else dict(left_out))
        self.scans = scans_of(self._taken, drawn(self._all))
        self.observe(self._judge, "left_out")
        self._judge()

    @property
    def kept(self) -> xr.DataArray:
        """The counts without the scans that are left out."""
        return self._without(self.left_out)

    def as_manifest(self) -> str:
        """What ``bench.toml`` has to say of this frame.

        Returns
        -------
        str
            A line of TOML; of counts that belong to no bench, the keys that go into its table.

        Examples
        --------
        >>> FrameCheck(demo, "raw/cover.csv", left_out={2: "door open"}).as_manifest()
        'sample = { file = "raw/cover.csv", left_out = [2], because = "door open" }'
        """
        return as_manifest(self._taken.role, self.left_out)

    def _stated(self) -> dict[int, str]:
        """What the manifest leaves out already."""
        role = self._taken.role
        if role is None or role.frame is None:
            return {}
        return dict.fromkeys(role.frame.left_out, role.frame.because)

    @traitlets.validate("left_out")
    def _with_reasons(self, proposal: dict[str, Any]) -> dict[int, str]:
        """Numbers and reasons, or why these cannot be."""
        given: dict[int, str] = {}
        for number, reason in proposal["value"].items():
            if not str(number).strip().isdecimal():
                raise Refused(f"scans are numbers that count from 1, not {quote(str(number))}")
            if not isinstance(reason, str) or not reason.strip():
                raise Refused(
                    f"scan {number} is left out without a reason: write what was seen, such as "
                    f"{quote('the lamp flickered')}"
                )
            given[int(number)] = " ".join(reason.split())
        try:
            self._without(given)
        except RangeError as error:
            raise Refused(str(error)) from error
        return dict(sorted(given.items()))

    def _without(self, left_out: Mapping[int, str]) -> xr.DataArray:
        counts = self._taken.counts
        return leave_out(counts, left_out, because=because(dict(left_out))) if left_out else counts

    def _checked(self, counts: xr.DataArray) -> xr.Dataset:
        taken = self._taken
        return check_frame(counts, taken.full_scale, taken.level, dark=taken.dark, noise=taken.noise)

    def _judge(self, _: Any = None) -> None:
        """Judge the scans that are kept."""
        try:
            result = self._checked(self.kept)
        except SpectralBenchError as error:
            self.state = f"{REFUSED}{error}"
            return
        with self.hold_sync():
            self.apart = apart_of(self._taken, self.kept, result, self._apart())
            self.check = self._said(result)
            self.state = ""
        self.result = result

    def _apart(self) -> list[int]:
        """Scans of which it is shown how far they lie from the mean."""
        out = {*odd(self._all), *self.left_out}
        return [number for number in drawn(self._all) if number in out]

    def _numbers(self) -> list[int]:
        """Scans that are kept."""
        return [number for number in range(1, self._all.sizes["spectrum"] + 1) if number not in self.left_out]

    def _said(self, result: xr.Dataset) -> dict[str, Any]:
        """Everything in words."""
        criteria = self._taken.criteria
        verdicts = [str(result.attrs["verdict"]), *(one.finding.verdict for one in criteria)]
        worst = max(verdicts, key=[GOOD, CARE, NOT].index)
        figures = [
            {
                "title": str(one.coords["criterion"].item()),
                "found": one["found_in_words"].item(),
                "limit": one["limit_in_words"].item(),
                "standing": one["standing"].item(),
                "judged": one["judged"].item(),
                "reason": one["reason_of"].item(),
            }
            for one in (result.isel(criterion=i) for i in range(result.sizes["criterion"]))
        ]
        figures += [
            {
                "title": one.title,
                "found": one.found,
                "limit": one.limit,
                "standing": one.standing,
                "judged": one.finding.verdict,
                "reason": one.finding.reason,
            }
            for one in criteria
        ]
        reasons = [
            one["reason"] for v in (NOT, CARE) for one in figures if one["judged"] == v and one["reason"]
        ]
        kept, count = self._numbers(), self._all.sizes["spectrum"]
        mean = "" if len(kept) < 2 else f"; one scan scatters by {per_cent(float(result['level_scatter']))}"
        if len(kept) > 1:
            uncertain = float(result["level_scatter"]) / np.sqrt(len(kept))
            mean += f", their mean is uncertain by {per_cent(uncertain)} (standard uncertainty)"
        return {
            "title": self._taken.title,
            "verdict": worst,
            "words": sentence(worst, reasons),
            "reasons": reasons,
            "scans": [self._row(number, result, kept) for number in range(1, count + 1)],
            "figures": figures,
            "mean": f"{len(kept)} of {count} scans are used{mean}",
            "manifest": as_manifest(self._taken.role, self.left_out),
        }

    def _row(self, number: int, result: xr.Dataset, kept: list[int]) -> dict[str, Any]:
        """One scan in words; its level is that against all, its verdict that among those which are kept."""
        one = self._all.sel(spectrum=number)
        verdict, reason = _LEFT_OUT, self.left_out.get(number, "")
        if number in kept:
            judged = result.isel(spectrum=kept.index(number))
            verdict = judged["verdict"].item()
            reason = "" if verdict == NOT else judged["reason"].item()  # which its saturated pixels say
        difference, times = float(one["level_difference"]), float(one["times_noise"])
        return {
            "number": number,
            "odd": number in odd(self._all),
            "level": _signed(difference),
            "noise": f"{times:.{0 if times >= 10 else 1}f} × noise" if np.isfinite(times) else "",
            "highest": f"{float(one['highest']):.0f}",
            "share": per_cent(float(one["highest_share"])),
            "saturated": one["saturated_at"].item(),
            "verdict": verdict,
            "reason": reason,
        }

    def still(self) -> tuple[str, str]:
        """The scans that are kept, and the verdicts."""
        taken = self._taken
        limit = plain(taken.full_scale) * plain(taken.level)
        picture = frame_picture(taken.counts, self.kept, limit, self.check)
        return picture, "\n".join(self._lines())

    def _lines(self) -> list[str]:
        """Everything in plain text."""
        rows = [
            f"scan {one['number']}: {one['level']} against the median, highest {one['highest']} "
            f"({one['share']} of full scale): "
            + sentence(one["verdict"], [one["reason"]] * bool(one["reason"]))
            for one in self.check["scans"]
        ]
        return [f"{self.check['title']}: {self.check['words']}", self.check["mean"], *rows]


def _alone(
    frame: xr.DataArray | xr.Dataset,
    full_scale: float | str | None,
    level: float | str,
    dark: xr.DataArray | None,
    noise: NoiseModel | None,
) -> TakenFrame:
    """Counts that belong to no bench."""
    if full_scale is None:
        raise RangeError("full_scale is missing: say how many counts the converter can give, as in 65535")
    if isinstance(frame, xr.Dataset):
        if "counts" not in frame:
            raise RangeError(
                f"there are no counts in this dataset, but {', '.join(map(str, frame.data_vars))}"
            )
        title, counts = str(frame.attrs.get("source", "")), frame["counts"]
    else:
        title, counts = "", frame
    return TakenFrame(title or "frame", counts, full_scale, level, dark, noise)


def _signed(share: float) -> str:
    """A difference in per cent, of which the decimals stand in line."""
    if not np.isfinite(share):
        return "not known"
    percents = round(100 * share, 2)
    return f"{percents:+.2f} %".replace("-", "−") if percents else "0.00 %"
