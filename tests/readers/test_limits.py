"""No input, however bad, takes longer than a second, or more memory than twenty times a file of 250 kB.

A smaller file may take a larger share of memory, and some 6 MB at most.
"""

import time
import tracemalloc

import pytest

from spectralbench.errors import ReadError
from spectralbench.readers import read

SIZE = 250_000  # bytes of a hostile file
SECONDS, TIMES = 1.0, 20
TABLE = "\n365,1\n366,2\n"
HEAD = "wavelength [nm],counts [1]\n"
JCAMP = "##TITLE=a\n##JCAMP-DX=4.24\n##DATA TYPE=UV/VIS SPECTRUM\n##XUNITS=NANOMETERS\n##YUNITS=ABSORBANCE\n"
JCAMP += "##XFACTOR=1\n##YFACTOR=1\n##FIRSTX=400\n##LASTX=402\n##NPOINTS=3\n"
XYDATA = "##XYDATA=(X++(Y..Y))\n"
TM27 = '<?xml version="1.0"?>\n<IESTM2714 xmlns="iestm2714" version="1.0">\n'


def many(text: str) -> str:
    return text * (SIZE // len(text))


HOSTILE = {
    "regular": HEAD + "".join(f"{200 + i / 1000:.3f},{i}\n" for i in range(SIZE // 14)),
    "tiny rows": HEAD + "".join(f"{i},1\n" for i in range(1, SIZE // 8)),
    "one long row": HEAD + "365,1\n366" + many(",1"),
    "many columns": ("1" + ",1" * 5000 + "\n") * (SIZE // 10_000),
    "blank lines": HEAD + "365,1" + many("\n") + "366,2\n",
    "comments": many("# a: b\n") + TABLE,
    "bad cells": HEAD + many("365,x\n"),
    "rows of one field": HEAD + many("1\n"),
    "repeated rows": HEAD + many("365,1\n"),
    "up and down": HEAD + many("365,1\n366,1\n"),
    "blanks": HEAD + many(" ") + TABLE,
    "tabs": HEAD + many("\t") + TABLE,
    "quotes": many('"') + TABLE,
    "a quote that never ends": HEAD + '"' + many("365,1\n"),
    "brackets": many("[") + TABLE,
    "parentheses": "wavelength" + many("(") + ",a" + TABLE,
    "parentheses with blanks": "wavelength" + many("( ") + ",a" + TABLE,
    "digits": many("1") + TABLE,
    "long numbers": many("1" * 300 + ",2\n"),
    "letters": many("a"),
    "commas": many(","),
    "minus": many("-") + TABLE,
    "empty rows": many(";" * 100 + "\n"),
    "dates": "time,irradiance [W m-2]\n" + many("2026-05-04T09:00:00,1\n"),
    "comment signs": many("#") + TABLE,
    "slashes": many("/") + TABLE,
    "a long key": "# k" + many("a") + ": b" + TABLE,
    "keys without end": "# " + many("a=") + TABLE,
    "carriage returns": HEAD + "365,1" + many("\r") + "\n366,2\n",
    "tables": many(HEAD + "365,1\n366,2\n"),
    "names without units": many("counts,") + TABLE,
    "text columns": "time [s],channel,irradiance [W m-2]\n"
    + "".join(f"{i},A,1\n" for i in range(SIZE // 10)),
    "labels": many("##A=\n") + TABLE,
    "jcamp labels": JCAMP + many("##A=1\n") + XYDATA + "400 1 2 3\n##END=\n",
    "jcamp without end": JCAMP + XYDATA + many("400 1 2 3\n"),
    "jcamp comments": JCAMP + many("$$ a\n") + XYDATA + "400 1 2 3\n##END=\n",
    "jcamp comment signs": JCAMP + "##A= b " + many("$") + "\n" + XYDATA + "400 1 2 3\n##END=\n",
    "jcamp repeats": JCAMP.replace("NPOINTS=3", "NPOINTS=900000000")
    + XYDATA
    + "400"
    + many("A0s99999999")
    + "\n",
    "jcamp one long line": JCAMP + XYDATA + "400" + many("+1") + "\n##END=\n",
    "jcamp differences": JCAMP + XYDATA + "400A" + many("J") + "\n##END=\n",
    "jcamp signs": JCAMP + XYDATA + "400" + many("+") + "\n##END=\n",
    "jcamp missing": JCAMP + XYDATA + "400" + many("?") + "\n##END=\n",
    "jcamp pairs": JCAMP + "##XYPOINTS=(XY..XY)\n" + many("400,1;") + "\n##END=\n",
    "jcamp points": JCAMP.replace("NPOINTS=3", "NPOINTS=99999999999") + XYDATA + "400 1 2 3\n##END=\n",
    "jcamp blocks": "##TITLE=a\n##DATA TYPE=LINK\n##BLOCKS=9\n" + many("##TITLE=b\n##END=\n"),
    "jcamp nests": many("##TITLE=a\n##DATA TYPE=LINK\n##BLOCKS=2\n"),
    "jcamp continuation": JCAMP + "##A=\n" + many("b\n") + XYDATA + "400 1 2 3\n##END=\n",
    "xml nests": TM27 + many("<a>"),
    "xml elements": TM27 + "<Header>" + many("<a/>") + "</Header></IESTM2714>",
    "xml attributes": TM27 + "<Header " + " ".join(f'a{i}="1"' for i in range(SIZE // 10)) + "/></IESTM2714>",
    "xml text": TM27 + "<Header>" + many("a ") + "</Header></IESTM2714>",
    "xml comment": TM27 + "<!--" + many("a") + "--></IESTM2714>",
    "xml entities": '<?xml version="1.0"?>\n<!DOCTYPE a [<!ENTITY b "' + many("c") + '">]>\n<a>&b;&b;&b;</a>',
    "xml points": TM27
    + "<SpectralDistribution><SpectralQuantity>irradiance</SpectralQuantity>"
    + "".join(f'<SpectralData wavelength="{i}">1</SpectralData>' for i in range(1, SIZE // 45))
    + "</SpectralDistribution></IESTM2714>",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_time_and_memory_are_bounded(name, tmp_path):
    path = tmp_path / "hostile.txt"
    path.write_text(HOSTILE[name])
    begin = time.process_time()  # the machine may be busy elsewhere
    assert _attempt(path) < 20_000  # characters of a message
    assert time.process_time() - begin < SECONDS
    tracemalloc.start()
    try:
        _attempt(path)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < TIMES * path.stat().st_size + 2**20, f"{peak / path.stat().st_size:.0f} times the file"


def _attempt(path):
    try:
        read(path)
    except ReadError as error:
        return len(str(error))
    return 0
