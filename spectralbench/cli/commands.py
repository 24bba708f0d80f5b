"""What each command does; what only one of them needs is imported there, for it takes a second."""

from __future__ import annotations

import argparse
import json
import logging
import shlex
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

import xarray as xr
from rich.console import Console
from rich.markup import escape
from rich.status import Status

import spectralbench as sb
from spectralbench.cli import BAD_CALL, BAD_DATA, writes_all
from spectralbench.errors import BenchError, Fault, ReadError, SpectralBenchError, printable
from spectralbench.readers.choices import Choices

_WIDTH = 110  # columns of a table that goes to a file or a pipe


def run(chosen: argparse.Namespace) -> int:
    """Run one command and turn errors into words and an exit status.

    Parameters
    ----------
    chosen : argparse.Namespace
        What was asked for.

    Returns
    -------
    int
        0; 1 if data are bad or a saved result does not agree; 2 if the call is bad.

    Examples
    --------
    >>> from spectralbench.cli import parser
    >>> run(parser().parse_args(["inspect", "--quiet", "/nowhere"]))
    1
    """
    work = _COMMANDS[chosen.command]
    errors = Console(stderr=True, soft_wrap=True, highlight=False)
    try:
        with _progress(errors, quiet=chosen.quiet or chosen.json):
            return work(chosen) or 0
    except SpectralBenchError as error:
        return _failed(errors, error, chosen, BAD_DATA)
    except MemoryError:
        words = "there is not enough memory for this: ask for fewer draws (--draws), or free some"
        return _failed(errors, SpectralBenchError(words), chosen, BAD_DATA)
    except BrokenPipeError:  # whoever read the output has seen enough
        return 0
    except OSError as error:
        return _failed(errors, error, chosen, BAD_CALL)


def _failed(errors: Console, error: Exception, chosen: argparse.Namespace, status: int) -> int:
    if chosen.traceback:
        errors.print(escape("".join(traceback.format_exception(error))))
    errors.print(f"spectralbench {chosen.command}: [red]error:[/red] {escape(str(error))}")
    return status


class _progress:  # noqa: N801 - reads as a statement: with _progress(...)
    """Show what the package logs: on a terminal in one line that changes, elsewhere as lines."""

    def __init__(self, console: Console, *, quiet: bool) -> None:
        self.log = logging.getLogger("spectralbench")
        self.level = self.log.level
        self.status = Status("", console=console) if console.is_terminal and not quiet else None
        self.handler = _Lines(console, self.status)
        self.quiet = quiet

    def __enter__(self) -> None:
        if self.quiet:
            return
        self.log.addHandler(self.handler)
        self.log.setLevel(logging.DEBUG if self.status else logging.INFO)
        if self.status:
            self.status.start()

    def __exit__(self, *_: object) -> None:
        if self.status:
            self.status.stop()
        self.log.removeHandler(self.handler)
        self.log.setLevel(self.level)


class _Lines(logging.Handler):
    def __init__(self, console: Console, status: Status | None) -> None:
        super().__init__()
        self.console = console
        self.status = status

    def emit(self, record: logging.LogRecord) -> None:
        if self.status:
            self.status.update(escape(record.getMessage()))
        else:
            self.console.print(escape(record.getMessage()))


def _output() -> Console:
    console = Console(highlight=False)
    if not console.is_terminal:
        console.width = _WIDTH
    return console


def _pasted(path: str | Path) -> str:
    """A path as a shell takes it: in quotes, where it has blanks."""
    return shlex.quote(str(path))


def _print_json(command: str, document: dict[str, Any]) -> None:
    """Print a document with its form, for which `spectralbench.reports.forms` has a schema."""
    from spectralbench.reports.forms import form

    whole = {"form": form(command)} | document
    escaped = not writes_all(sys.stdout)
    sys.stdout.write(json.dumps(whole, indent=2, ensure_ascii=escaped, allow_nan=False) + "\n")


def _demo(chosen: argparse.Namespace) -> None:
    folder = sb.write_demo_bench(chosen.folder)
    if chosen.json:
        _print_json("demo", {"bench": str(folder)})
        return
    console = _output()
    console.print(f"wrote an invented bench into {escape(str(folder))}: bench.toml and raw/", soft_wrap=True)
    console.print(f"next: spectralbench compare {escape(_pasted(folder))}", soft_wrap=True)


def _new(chosen: argparse.Namespace) -> None:
    from spectralbench.benches.starting import start_bench, start_notebook

    if chosen.notebook:
        made = start_notebook(chosen.notebook, chosen.folder or ".")
        said = [f"wrote {made}", f"next: jupyter lab {_pasted(made)}"]
    else:
        made = start_bench(chosen.folder or "bench")
        said = [
            f"wrote {made / 'bench.toml'}; every value in it is a placeholder, and raw/ waits for your files",
            f"next: spectralbench compare {_pasted(made)} says what is missing or wrong",
        ]
    if chosen.json:
        _print_json("new", {"notebook" if chosen.notebook else "bench": str(made)})
        return
    for line in said:
        _output().print(escape(line), soft_wrap=True)


def _inspect(chosen: argparse.Namespace) -> None:
    from spectralbench.reports import records, tables

    choices = {name: getattr(chosen, name) for name in Choices._fields}
    found, failed = [], []
    for name in chosen.files:
        try:
            data = sb.read(name, **choices)
        except ReadError as error:
            failed.append(error)
            continue
        if isinstance(data, xr.Dataset):
            found.append(records.of_file(name, data))
        else:
            found += records.of_blocks(name, data)
    if chosen.json:
        _print_json("inspect", {"files": found})
    else:
        console = _output()
        for record in found:
            tables.print_file(console, record)
    if len(failed) == 1:
        raise failed[0]
    if failed:
        raise SpectralBenchError("\n".join(map(str, failed)))


def _reduce(chosen: argparse.Namespace) -> None:
    from spectralbench.reports import records, tables

    tree = sb.reduce_bench(chosen.bench, chosen.draws, chosen.seed)
    written = _export(tree, Path(chosen.export), Path(chosen.bench)) if chosen.export else []
    written += _save(tree, chosen)
    if chosen.json:
        _print_json("reduce", records.of_reduction(tree) | {"written": [str(path) for path in written]})
        return
    console = _output()
    tables.print_reduction(console, records.of_reduction(tree))
    for path in written:
        console.print(f"wrote {escape(str(path))}", soft_wrap=True)


def _export(tree: Any, folder: Path, bench: Path) -> list[Path]:
    """Write the reduced spectra as plain text, never among the raw files."""
    from spectralbench.benches.stacking import estimate

    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for node, name in (
        ("sources", "spectral_irradiance"),
        ("parts", "transmittance"),
        ("adhesive", "absorbance"),
    ):
        path = folder / f"{name}.csv"
        _refuse_raw(path, tree, bench)
        array = tree[node].to_dataset()[name]
        along = next(str(name) for name in array.dims if name not in ("draw", "wavelength"))
        plain = estimate(array).rename({along: "spectrum"})
        sb.write_spectra(path, plain, {"title": f"{tree.attrs['title']}: {name.replace('_', ' ')}"})
        written.append(path)
    return written


def _refuse_raw(path: Path, result: xr.DataTree | xr.Dataset, bench: Path) -> None:
    """Refuse to write over a raw file or the manifest, or over a folder that holds one."""
    place = path.resolve()
    for name in json.loads(result.attrs["provenance"])["files"]:
        raw = (bench / name).resolve()
        if place == raw or place in raw.parents or (place.exists() and place.samefile(raw)):
            found = f"{place.name}, a raw file or the manifest of the bench"
            expected = "another name, as in a folder for results"
            raise BenchError(path, [Fault(found, expected, "Raw files are never changed.")])


def _save(result: xr.DataTree | xr.Dataset, chosen: argparse.Namespace) -> list[Path]:
    """Save a result where it was asked for, if it was."""
    if not chosen.save:
        return []
    path = Path(chosen.save)
    _refuse_raw(path, result, Path(chosen.bench))
    path.parent.mkdir(parents=True, exist_ok=True)
    sb.save(result, path)
    return [path]


def _compare(chosen: argparse.Namespace) -> None:
    from spectralbench.benches.comparing import reduced_and_compared
    from spectralbench.reports import records, tables

    tree, result = reduced_and_compared(chosen.bench, chosen.draws, chosen.seed)
    written: dict[str, str | None] = {"report": None, "csv": None}
    if chosen.report:
        from spectralbench.reports import page

        written["report"] = str(page.write_report(chosen.report, tree, result))
    if chosen.csv:
        from spectralbench.reports import verdicts

        _refuse_raw(Path(chosen.csv), result, Path(chosen.bench))
        written["csv"] = str(verdicts.write_verdicts(chosen.csv, result))
    saved = [str(path) for path in _save(result, chosen)]
    if chosen.json:
        from spectralbench.reports.document import document_of

        _print_json("compare", document_of(tree, result) | written | {"saved": saved})
        return
    console = _output()
    tables.print_reduction(console, records.of_reduction(tree))
    console.print()
    tables.print_comparison(console, records.of_comparison(result))
    lines = [f"saved: {path}" for path in saved]
    lines += [f"{name}: {written[name]}" for name in ("csv", "report") if written[name]]
    if lines:
        console.print()
    for line in lines:
        console.print(escape(line), soft_wrap=True)


def _verify(chosen: argparse.Namespace) -> int:
    from spectralbench.reports import tables

    found = sb.verify(chosen.bench, chosen.results or None, chosen.tolerance)
    if chosen.json:
        _print_json("verify", found.to_dict())
    else:
        tables.print_verification(_output(), found.to_dict())
    return 0 if found.ok else BAD_DATA


def _pack(chosen: argparse.Namespace) -> None:
    made = sb.pack(chosen.bench, chosen.file, chosen.also, chosen.draws, chosen.seed)
    if chosen.json:
        document = {"pack": str(made.path), "size": made.size, "files": list(made.files)}
        _print_json("pack", document | {"left_out": list(made.left_out), "made": made.made})
        return
    for line in (
        *made.said,
        printable(f"next, here or elsewhere: spectralbench verify {_pasted(made.path.name)}"),
    ):
        _output().print(escape(line), soft_wrap=True)


def _unpack(chosen: argparse.Namespace) -> None:
    folder = sb.unpack(chosen.file, chosen.folder)
    if chosen.json:
        _print_json("unpack", {"bench": str(folder)})
        return
    console = _output()
    console.print(escape(f"unpacked into {folder}; every file is as it was packed"), soft_wrap=True)
    console.print(escape(f"next: spectralbench verify {_pasted(folder)}"), soft_wrap=True)


_COMMANDS: dict[str, Callable[[argparse.Namespace], int | None]] = {
    "demo": _demo,
    "new": _new,
    "inspect": _inspect,
    "reduce": _reduce,
    "compare": _compare,
    "pack": _pack,
    "unpack": _unpack,
    "verify": _verify,
}
