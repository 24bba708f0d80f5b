"""The command line.

This module knows the words of the command line and nothing heavier, so that ``--help`` and
completion answer at once; the work stands in `spectralbench.cli.commands`.
"""

import argparse
import os
import sys

TYPE_CHECKING = False  # see the package's own __init__
if TYPE_CHECKING:
    from collections.abc import Sequence

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
    commands = result.add_subparsers(dest="command", metavar="COMMAND", title="commands")

    common = argparse.ArgumentParser(add_help=False)
    common.add_argument("--json", action="store_true", help="print JSON for machines, in SI units")
    common.add_argument("--quiet", action="store_true", help="print no progress")
    common.add_argument("--traceback", action="store_true", help="on an error, show where in the code")

    def command(name: str, text: str, example: str) -> argparse.ArgumentParser:
        return commands.add_parser(
            name,
            help=text,
            description=text[0].upper() + text[1:] + ".",
            epilog=f"example:\n  spectralbench {name} {example}",
            formatter_class=_form,
            parents=[common],
        )

    demo = command("demo", "write an invented demo bench into a new or empty folder", "my-bench")
    demo.add_argument("folder", nargs="?", default="demo-bench", help="default: %(default)s")

    new = command(
        "new", "start a bench, or a notebook, in a folder: bench.toml says what each line needs", "bench"
    )
    new.add_argument("folder", nargs="?", metavar="FOLDER", help="default: bench, or . for a notebook")
    text = "put this notebook there instead, under a free name: %(choices)s"
    new.add_argument("--notebook", choices=NOTEBOOKS, metavar="NAME", help=text)

    inspect = command("inspect", "say what is in a file, and how that was decided", "raw/led.csv")
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

    reduce = command("reduce", "reduce a bench: spectral irradiances, transmittance, figures", "my-bench")
    reduce.add_argument("bench", metavar="BENCH", help="folder with bench.toml in it")
    reduce.add_argument("--export", metavar="FOLDER", help="write the reduced spectra there, as plain text")

    compare = command(
        "compare", "compare the sources of a bench at the bond line", "my-bench --report report.html"
    )
    compare.add_argument("bench", metavar="BENCH", help="folder with bench.toml in it")
    compare.add_argument("--report", metavar="FILE", help="write the report there, one HTML file")
    text = "write the verdicts there, a row for each source and criterion, for a spreadsheet"
    compare.add_argument("--csv", metavar="FILE", help=text)
    by_draws = "By the Monte Carlo method, from the budget in bench.toml."
    for bench in (reduce, compare):
        text = "save the result there, as .nc (NetCDF) or .zarr (Zarr); in BENCH/results, verify finds it"
        bench.add_argument("--save", metavar="FILE", type=_archive, help=text)
        _add_draws(bench, by_draws)

    verify = command(
        "verify",
        "make saved results again from the raw files, and say whether they agree",
        "my-bench\n  spectralbench verify my-bench.zip",
    )
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

    schema = commands.add_parser(
        "schema",
        help="print the JSON schema of what a command prints with --json",
        description="Print the JSON schema (2020-12) of what a command prints with --json.",
        epilog="example:\n  spectralbench schema compare > compare.schema.json",
        formatter_class=_form,
    )
    schema.add_argument("name", choices=SCHEMAS, metavar="COMMAND", help="%(choices)s")

    pack = command(
        "pack",
        "pack a bench into one file: manifest, raw files, saved results, versions, hashes",
        "my-bench\n  spectralbench pack my-bench to-anna.zip --also notes.md",
    )
    pack.add_argument("bench", metavar="BENCH", help="folder with bench.toml in it; nothing in it changes")
    text = "where to, ends in .zip; default: the name of the folder, beside it"
    pack.add_argument("file", nargs="?", metavar="FILE", help=text)
    text = "pack this file of the folder too: notes, a notebook; may be given again"
    pack.add_argument("--also", action="append", default=[], metavar="FILE", help=text)
    _add_draws(pack, f"Of the comparison that is made if none is saved in BENCH/results.\n{by_draws}")

    unpack = command(
        "unpack",
        "unpack a bench that was packed, if every file is as its hash says",
        "my-bench.zip bench-of-anna",
    )
    unpack.add_argument("file", metavar="FILE", help="a pack (.zip)")
    text = "new or empty; default: the name of the pack, here"
    unpack.add_argument("folder", nargs="?", metavar="FOLDER", help=text)

    completion = commands.add_parser(
        "completion",
        help="print a completion script for a shell",
        description="Print a completion script for a shell.",
        epilog='example:\n  eval "$(spectralbench completion bash)"',
        formatter_class=_form,
    )
    completion.add_argument("shell", choices=["bash", "zsh", "tcsh"])
    return result


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
