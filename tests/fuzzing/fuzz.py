"""Feed the readers with damaged files, guided by the code that each one reaches.

    python tests/fuzzing/fuzz.py delimited jcamp --runs 20000

Begins with the valid files in tests/samples and mutates them. An input may give a result or a
ReadError, within a second; anything else stops the run, and libFuzzer writes the input down as
``crash-…``: shorten it, and keep it in tests/fuzzing/found.
"""

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["spectralbench.readers"]):
    from spectralbench.errors import ReadError
    from spectralbench.readers import read

SAMPLES = Path(__file__).parent.parent / "samples"
SEEDS = {
    "delimited": (".csv", ".txt"),
    "jcamp": (".dx", ".jdx"),
    "tm27": (".spdx",),
}
WORDS = {
    "delimited": (
        *("# key: value\\n", "wavelength [nm]", "counts [1]", "transmittance [%]", ";", "\\t", ",", "1,5"),
        *("1e308", "-1e-400", "1.5D-03", "NaN", "invalid", "\\x00", "\\x1a", "\\xff\\xfe", "\\xef\\xbb\\xbf"),
        *("2026-03-02T10:30:00+01:00", "time [s]", "hours [h]", "channel", "band", "log10(", "position [mm]"),
    ),
    "jcamp": (
        *("##TITLE=", "##END=", "##NPOINTS=", "##DATA TYPE=LINK", "##BLOCKS=", "##XYDATA=(X++(Y..Y))"),
        *("##XYPOINTS=(XY..XY)", "##PEAK TABLE=(XY..XY)", "##XUNITS=1/CM", "##YUNITS=TRANSMITTANCE", "$$"),
        *("##XFACTOR=", "##YFACTOR=", "##FIRSTX=", "##LASTX=", "##DELTAX=", "##NTUPLES=", "##PAGE=", "?"),
        *("S000000", "s99", "A000J000JJ%%", "@", "%U", "+1-1", "1E999"),
    ),
    "tm27": (
        *("<!DOCTYPE a [<!ENTITY b 'c'>]>", "&b;", "<![CDATA[", "]]>", "<?xml version='1.0'?>", "<!--"),
        *("<SpectralData wavelength='", "'>", "</SpectralData>", "<SpectralDistribution>", "<Header>"),
        *("xmlns='iestm2714'", "encoding='UTF-16'", "&#x110000;", "&lt;", "irradiance", "transmittance"),
    ),
}


def main() -> None:
    """Fuzz one reader after the other, each in a process of its own, which the fuzzer ends."""
    words = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    words.add_argument("readers", metavar="reader", choices=sorted(SEEDS), nargs="+")
    words.add_argument("--runs", type=int, default=20_000, help="inputs tried (default: %(default)s)")
    words.add_argument("--seed", type=int, default=0, help="of the mutations; 0 takes another every time")
    words.add_argument("--corpus", type=Path, help="folder in which inputs that reach new code are kept")
    chosen = words.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        bare = Path(folder) / "bare.txt"
        bare.write_text("365 1\n366 2\n")
        read(bare, axis_units="µm")  # units are loaded on first use, which is no fault of an input
    for reader in chosen.readers:
        child = os.fork()
        if child == 0:
            fuzz(reader, chosen)
        _, status = os.waitpid(child, 0)
        if status:
            sys.exit(os.waitstatus_to_exitcode(status))


def fuzz(reader: str, chosen: argparse.Namespace) -> None:
    """Fuzz one reader; this does not return."""
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        (here / "seeds").mkdir()
        for path in sorted(SAMPLES.iterdir()):
            if path.suffix in SEEDS[reader]:
                (here / "seeds" / path.name).write_bytes(path.read_bytes()[:20_000])
        (here / "words").write_text("".join(f'"{_escaped(word)}"\n' for word in WORDS[reader]))
        target = here / "input"

        def one(data: bytes) -> None:
            target.write_bytes(data)
            begin = time.process_time()  # the machine may be busy elsewhere
            try:
                read(target)
            except ReadError as error:
                if not all(line.isprintable() for line in str(error).split("\n")):
                    raise AssertionError(f"a message that hides something: {str(error)!r}") from None
            if (seconds := time.process_time() - begin) > 1.0:
                raise AssertionError(f"{len(data)} bytes took {seconds:.1f} s")

        options = [
            f"-runs={chosen.runs}",
            f"-seed={chosen.seed}",
            f"-dict={here / 'words'}",
            *("-max_len=8192", "-timeout=5", "-rss_limit_mb=2048", "-print_final_stats=1", "-verbosity=0"),
            *([str(chosen.corpus)] if chosen.corpus else []),
            str(here / "seeds"),
        ]
        atheris.Setup([sys.argv[0], *options], one)
        atheris.Fuzz()


def _escaped(word: str) -> str:
    """A word as libFuzzer's dictionaries write it."""
    data = word.encode().decode("unicode_escape").encode("latin-1")
    return "".join(chr(b) if 32 <= b < 127 and b not in b'"\\' else f"\\x{b:02x}" for b in data)


if __name__ == "__main__":
    main()
