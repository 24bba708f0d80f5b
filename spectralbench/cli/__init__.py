"""The command line.

This module knows the words of the command line and nothing heavier, so that ``--help`` and
completion answer at once; the work stands in `spectralbench.cli.commands`.
"""

import argparse
import os
import sys

TYPE_CHECKING = False  # see the package's own __init__
if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from typing import Any

BAD_DATA, BAD_CALL = 1, 2
FEWEST_DRAWS = 20  # of `spectralbench.draws`, which would have to be loaded
SCHEMAS = (
    "compare",
    "demo",
    "inspect",
    "new",
    "pack",
    "reduce",
    "unpack",
    "verify",
)  # of `spectralbench.reports.forms`
NOTEBOOKS = ("bench_spectra", "housing_material", "which_source")  # of `spectralbench.benches.starting`

_DESCRIPTION = """\
From raw files of a spectrometer and a radiometer to a reasoned short list:
which light source reaches the bond line through your own part, with how much
of the light that the adhesive can use. It shortens the list of what to test;
it never claims a cure.
"""

_EXAMPLES = """\
examples:
  spectralbench demo my-bench              write an invented bench to try things on
  spectralbench new bench                  start a bench of your own
  spectralbench inspect my-bench/raw/*.csv what is in these files?
  spectralbench reduce my-bench            spectra and their figures
  spectralbench compare my-bench --report report.html
  spectralbench verify my-bench            do the raw files still give the saved results?
  spectralbench pack my-bench              one file for a colleague, who verifies it too
"""
_BY_DRAWS = "By the Monte Carlo method, from the budget in bench.toml."


def _form(prog: str) -> argparse.HelpFormatter:
    """Help as written, as wide as the terminal.

    Left to itself, argparse asks `shutil` for the width, and that costs more than all the rest.
    """
    try:
        width = int(os.environ.get("COLUMNS") or os.get_terminal_size().columns)
    except (OSError, ValueError):
        width = 80
    return argparse.RawDescriptionHelpFormatter(prog, max_help_position=32, width=max(60, width - 2))


def _archive(name: str) -> str:
    """A name under which a result can be saved, said before anything is computed."""
    if not name.lower().endswith((".nc", ".zarr")):
        raise argparse.ArgumentTypeError(f"{name!r} ends in neither .nc (NetCDF) nor .zarr (Zarr)")
    return name


def _tolerance(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0 <= value < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is no number from 0 to below 1, such as 1e-9")
    return value


def _draws(text: str) -> int:
    value = _whole(text)
    if value != 0 and value < FEWEST_DRAWS:
        raise argparse.ArgumentTypeError(
            f"{text!r} is too few: an interval of 95 % takes at least {FEWEST_DRAWS} draws; 0 is for none"
        )
    return value


def _whole(text: str) -> int:
    try:
        value = int(text)
    except ValueError:
        value = -1
    if value < 0:
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number of at least 0")
    return value


class _Command(argparse.ArgumentParser):
    """The parser of one command, built when something of it is asked for: ``--help`` needs none."""

    def __init__(self, fill: "Callable[[argparse.ArgumentParser], None]", **words: "Any") -> None:
        self._unbuilt = fill, words

    def __getattr__(self, name: str) -> "Any":
        if "_unbuilt" not in self.__dict__:
            raise AttributeError(f"{type(self).__name__!r} has no attribute {name!r}")
        fill, words = self.__dict__.pop("_unbuilt")
        super().__init__(**words)
        fill(self)
        return getattr(self, name)


def parser() -> argparse.ArgumentParser:
    """Build the parser of the command line.

    Returns
    -------
    argparse.ArgumentParser
        With one sub-command for each task.

    Examples
    --------
    >>> parser().parse_args(["compare", "my-bench"]).bench
    'my-bench'
    """
    result = argparse.ArgumentParser(
        "spectralbench", description=_DESCRIPTION, epilog=_EXAMPLES, formatter_class=_form
    )
    result.add_argument("--version", action="store_true", help="print the version and stop")
    commands = result.add_subparsers(
        dest="command", metavar="COMMAND", title="commands", parser_class=_Command
    )

    def command(fill: "Callable[[argparse.ArgumentParser], None]", text: str, example: str) -> None:
        name = fill.__name__.strip("_")
        commands.add_parser(
            name,
            fill=fill,
            help=text,
            description=text[0].upper() + text[1:] + ".",
            epilog=f"example:\n  {example}",
            formatter_class=_form,
        )

    command(_demo, "write an invented demo bench into a new or empty folder", "spectralbench demo my-bench")
    command(
        _new,
        "start a bench, or a notebook, in a folder: bench.toml says what each line needs",
        "spectralbench new bench",
    )
    command(_inspect, "say what is in a file, and how that was decided", "spectralbench inspect raw/led.csv")
    command(
        _reduce,
        "reduce a bench: spectral irradiances, transmittance, figures",
        "spectralbench reduce my-bench",
    )
    command(
        _compare,
        "compare the sources of a bench at the bond line",
        "spectralbench compare my-bench --report report.html",
    )
    command(
        _verify,
        "make saved results again from the raw files, and say whether they agree",
        "spectralbench verify my-bench\n  spectralbench verify my-bench.zip",
    )
    command(
        _schema,
        "print the JSON schema (2020-12) of what --json prints",
        "spectralbench schema compare > compare.schema.json",
    )
    command(
        _pack,
        "pack a bench into one file: manifest, raw files, saved results, versions, hashes",
        "spectralbench pack my-bench\n  spectralbench pack my-bench to-anna.zip --also notes.md",
    )
    command(
        _unpack,
        "unpack a bench that was packed, if every file is as its hash says",
        "spectralbench unpack my-bench.zip bench-of-anna",
    )
    command(_completion, "print a completion script for a shell", 'eval "$(spectralbench completion bash)"')
    return result


def _demo(demo: argparse.ArgumentParser) -> None:
    _add_common(demo)
    demo.add_argument("folder", nargs="?", default="demo-bench", help="default: %(default)s")


def _new(new: argparse.ArgumentParser) -> None:
    _add_common(new)
    new.add_argument("folder", nargs="?", metavar="FOLDER", help="default: bench, or . for a notebook")
    text = "put this notebook there instead, under a free name: %(choices)s"
    new.add_argument("--notebook", choices=NOTEBOOKS, metavar="NAME", help=text)


def _inspect(inspect: argparse.ArgumentParser) -> None:
    _add_common(inspect)
    inspect.add_argument("files", nargs="+", metavar="FILE")
    inspect.add_argument(
        "--quantity", help="what the values are, if the file does not say: counts, transmittance, …"
    )
    inspect.add_argument("--units", help='their unit, if the file does not say: "mW/cm^2/nm", "%%", …')
    made = inspect.add_argument_group("decisions", "Each is made by what stands in the file, or else by you.")
    made.add_argument("--encoding", help="how letters are written: cp1252, …")
    made.add_argument("--delimiter", help="between columns: comma, semicolon, tab, blanks")
    made.add_argument("--decimal", help="the decimal sign: point, comma")
    made.add_argument(
        "--heading", type=int, metavar="LINE", help="line of the column names; 0 if there is none"
    )
    made.add_argument("--first-row", type=int, metavar="LINE", help="line at which the table begins")
    made.add_argument("--axis", help="what the axis is: wavelength, time, hours, …")
    made.add_argument("--axis-column", type=int, metavar="COLUMN", help="column of the axis, counted from 1")
    made.add_argument("--axis-units", metavar="UNITS", help="unit of the axis: nm, µm, s, …")
    made.add_argument("--scale", choices=["linear", "log10"], help="whether values are decadic logarithms")


def _reduce(reduce: argparse.ArgumentParser) -> None:
    _add_common(reduce)
    reduce.add_argument("bench", metavar="BENCH", help="folder with bench.toml in it")
    reduce.add_argument("--export", metavar="FOLDER", help="write the reduced spectra there, as plain text")
    _add_saved(reduce)


def _compare(compare: argparse.ArgumentParser) -> None:
    _add_common(compare)
    compare.add_argument("bench", metavar="BENCH", help="folder with bench.toml in it")
    compare.add_argument("--report", metavar="FILE", help="write the report there, one HTML file")
    text = "write the verdicts there, a row for each source and criterion, for a spreadsheet"
    compare.add_argument("--csv", metavar="FILE", help=text)
    _add_saved(compare)


def _verify(verify: argparse.ArgumentParser) -> None:
    _add_common(verify)
    verify.add_argument("bench", metavar="BENCH", help="folder with bench.toml in it, or a pack (.zip)")
    verify.add_argument(
        "results", nargs="*", metavar="FILE", help="saved results; default: all in BENCH/results"
    )
    verify.add_argument(
        "--tolerance",
        type=_tolerance,
        default=1e-9,
        help="relative difference up to which figures agree; default: %(default)s",
    )


def _schema(schema: argparse.ArgumentParser) -> None:
    schema.add_argument("name", choices=SCHEMAS, metavar="COMMAND", help="%(choices)s")


def _pack(pack: argparse.ArgumentParser) -> None:
    _add_common(pack)
    pack.add_argument("bench", metavar="BENCH", help="folder with bench.toml in it; nothing in it changes")
    text = "where to, ends in .zip; default: the name of the folder, beside it"
    pack.add_argument("file", nargs="?", metavar="FILE", help=text)
    text = "pack this file of the folder too: notes, a notebook; may be given again"
    pack.add_argument("--also", action="append", default=[], metavar="FILE", help=text)
    _add_draws(pack, f"Of the comparison that is made if none is saved in BENCH/results.\n{_BY_DRAWS}")


def _unpack(unpack: argparse.ArgumentParser) -> None:
    _add_common(unpack)
    unpack.add_argument("file", metavar="FILE", help="a pack (.zip)")
    text = "new or empty; default: the name of the pack, here"
    unpack.add_argument("folder", nargs="?", metavar="FOLDER", help=text)


def _completion(completion: argparse.ArgumentParser) -> None:
    completion.add_argument("shell", choices=["bash", "zsh", "tcsh"])


def _add_common(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", action="store_true", help="print JSON for machines, in SI units")
    command.add_argument("--quiet", action="store_true", help="print no progress")
    command.add_argument("--traceback", action="store_true", help="on an error, show where in the code")


def _add_saved(command: argparse.ArgumentParser) -> None:
    text = "save the result there, as .nc (NetCDF) or .zarr (Zarr); in BENCH/results, verify finds it"
    command.add_argument("--save", metavar="FILE", type=_archive, help=text)
    _add_draws(command, _BY_DRAWS)


def _add_draws(command: argparse.ArgumentParser, text: str) -> None:
    drawn = command.add_argument_group("intervals", text)
    drawn.add_argument(
        "--draws", type=_draws, default=1000, help="how many, 0 for none; default: %(default)s"
    )
    text = "the same seed gives the same numbers; default: %(default)s"
    drawn.add_argument("--seed", type=_whole, default=1, help=text)


def writes_all(stream: object) -> bool:
    """Tell whether every letter can be written to a stream.

    Parameters
    ----------
    stream : file-like
        Such as the standard output.

    Returns
    -------
    bool
        Whether it is in one of Unicode's encodings, or in none at all.

    Examples
    --------
    >>> import io
    >>> writes_all(io.TextIOWrapper(io.BytesIO(), "latin-1"))
    False
    """
    return (getattr(stream, "encoding", None) or "utf-8").lower().startswith("utf")


def main(arguments: "Sequence[str] | None" = None) -> int:
    """Run the command line.

    Parameters
    ----------
    arguments : sequence of str, optional
        Instead of those of the process.

    Returns
    -------
    int
        0; 1 if data are bad or a saved result does not agree; 2 if the call is bad.

    Examples
    --------
    >>> main(["--version"])  # doctest: +ELLIPSIS
    spectralbench ...
    0
    """
    for stream in (sys.stdout, sys.stderr):
        if not writes_all(stream):
            from spectralbench.cli.plain_signs import made_plain

            made_plain(stream)
    words = parser()
    chosen = words.parse_args(arguments)
    if chosen.version:
        from importlib.metadata import version

        sys.stdout.write(f"spectralbench {version('spectralbench')}\n")
        return 0
    if chosen.command is None:
        words.error('no command given; "spectralbench --help" lists them')
    if chosen.command == "completion":
        import shtab

        sys.stdout.write(shtab.complete(words, shell=chosen.shell) + "\n")
        return 0
    if chosen.command == "schema":
        from importlib.resources import files

        place = files("spectralbench.reports").joinpath("schemas", f"{chosen.name}.json")
        sys.stdout.write(place.read_text(encoding="utf-8"))
        return 0
    from spectralbench.cli import commands

    return commands.run(chosen)
