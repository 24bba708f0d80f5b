"""Spoilt benches: whatever is done to one, it gives a result or an error of ours, and stays as it was."""

from __future__ import annotations

import os
import random
import re
import shutil
from collections import Counter

import pytest

import spectralbench as sb
from spectralbench.errors import SpectralBenchError

COPIES = 50  # two of each way


class Spoiler:
    """Ways to spoil a bench; each is a method, and says nothing of what should come of it."""

    def __init__(self, folder, seed):
        self.folder, self.random = folder, random.Random(seed)
        self.files = sorted((folder / "raw").glob("*.csv"))
        self.manifest = folder / "bench.toml"
        ways = [name for name in vars(type(self)) if not name.startswith("_")]
        self.way = ways[seed % len(ways)]  # every way equally often
        getattr(self, self.way)()

    def _file(self):
        return self.random.choice(self.files)

    def _rows(self, change):
        """Change the rows of a file: a function of the list of lines that returns another."""
        path = self._file()
        lines = path.read_text(encoding="utf-8").splitlines()
        first = next(i for i, line in enumerate(lines) if line[0].isdigit())
        path.write_text("\n".join(lines[:first] + change(lines[first:])) + "\n", encoding="utf-8")

    def _cells(self, texts):
        def change(rows):
            for _ in range(self.random.choice([1, 1, 3, len(rows)])):
                i = self.random.randrange(len(rows))
                sign = ";" if ";" in rows[i] else ","
                cells = rows[i].split(sign)
                cells[self.random.randrange(len(cells))] = self.random.choice(texts)
                rows[i] = sign.join(cells)
            return rows

        self._rows(change)

    def _lines_of_manifest(self, change):
        lines = self.manifest.read_text(encoding="utf-8").splitlines()
        number = self.random.choice(
            [i for i, line in enumerate(lines) if "=" in line or line.startswith("[")]
        )
        lines[number : number + 1] = change(lines[number])
        self.manifest.write_text("\n".join(lines) + "\n", encoding="utf-8")

    def truncated_file(self):
        path = self._file()
        data = path.read_bytes()
        path.write_bytes(data[: self.random.randrange(len(data))])

    def truncated_manifest(self):
        data = self.manifest.read_bytes()
        self.manifest.write_bytes(data[: self.random.randrange(len(data))])

    def shuffled_rows(self):
        self._rows(lambda rows: self.random.sample(rows, len(rows)))

    def reversed_rows(self):
        self._rows(lambda rows: rows[::-1])

    def repeated_rows(self):
        self._rows(lambda rows: sorted([*rows, *self.random.sample(rows, 3)], key=rows.index))

    def few_rows(self):
        self._rows(lambda rows: rows[: self.random.randrange(5)])

    def column_deleted(self):
        path = self._file()
        text = path.read_text(encoding="utf-8")
        which = self.random.choice([r"^[^#%,;]*[,;]", r"[,;][^#%,;\n]*$"])
        path.write_text(re.sub(which, "", text, flags=re.MULTILINE), encoding="utf-8")

    def column_doubled(self):
        path = self._file()
        text = path.read_text(encoding="utf-8")
        path.write_text(re.sub(r"^([^#%].*)([,;].*)$", r"\1\2\2", text, flags=re.MULTILINE), encoding="utf-8")

    def files_swapped(self):
        one, two = self.random.sample(self.files, 2)
        content = one.read_bytes()
        one.write_bytes(two.read_bytes())
        two.write_bytes(content)

    def file_copied_over_another(self):
        one, two = self.random.sample(self.files, 2)
        one.write_bytes(two.read_bytes())

    def unit_changed(self):
        path = self._file()
        unit = self.random.choice(["nm", "s", "mW/cm^2", "V", "%", "furlong", "", "1e3", "°C", "W m-2 nm-1"])
        text = path.read_text(encoding="utf-8")
        path.write_text(re.sub(r"\[[^]]*\]", f"[{unit}]", text, count=2), encoding="utf-8")

    def header_changed(self):
        path = self._file()
        lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        number = self.random.randrange(next(i for i, line in enumerate(lines) if line[0].isdigit()))
        new = ["", "# integration time: -1 s\n", "# integration time: 20 ms\n", "# time: 1900-01-01\n"]
        lines[number] = self.random.choice([*new, "# time: yesterday\n", "wavelength,counts\n", "\n"])
        path.write_text("".join(lines), encoding="utf-8")

    def numbers_made_text(self):
        self._cells(["abc", "", "12,5", "1 000", "0x10", "one", "٣"])

    def numbers_made_gaps(self):
        self._cells(["nan", "NaN", "inf", "invalid", "####", "-"])

    def numbers_made_others(self):
        self._cells(["0", "-1", "-1e9", "1e300", "65535", "1e-300", "1e999", "70000", "365"])

    def manifest_line_deleted(self):
        self._lines_of_manifest(lambda line: [])

    def manifest_line_doubled(self):
        self._lines_of_manifest(lambda line: [line, line])

    def manifest_value_changed(self):
        values = [
            "3",
            "-3",
            "0",
            "nan",
            "true",
            "[]",
            "{}",
            "''",
            "1e400",
            "2026-01-01",
            "[[[]]]",
            "['1nm','2nm']",
            "'0mm'",
            "'1e300mm'",
        ]
        values += ["'raw/cover.csv'", "'arc'", "'5 s ± 9 s'"]
        self._lines_of_manifest(lambda line: [f"{line.partition('=')[0]}= {self.random.choice(values)}"])

    def quantity_scaled(self):
        power = self.random.choice([-300, -30, -6, -1, 1, 6, 30, 300])
        text = self.manifest.read_text(encoding="utf-8")
        found = self.random.choice(list(re.finditer(r'(?<=")\d+(?:\.\d+)?(?= )', text)))
        text = text[: found.start()] + f"{found[0]}e{power}" + text[found.end() :]
        self.manifest.write_text(text, encoding="utf-8")

    def role_changed(self):
        one, two = self.random.sample([path.name for path in self.files], 2)
        text = self.manifest.read_text(encoding="utf-8")
        text = text.replace(one, "\0").replace(two, one).replace("\0", two)
        self.manifest.write_text(text, encoding="utf-8")

    def file_removed(self):
        self._file().unlink()

    def file_replaced(self):
        path = self._file()
        path.unlink()
        kind = self.random.choice(["binary", "empty", "folder", "pipe", "link out", "loop", "zeros", "gzip"])
        if kind == "folder":
            path.mkdir()
        elif kind == "pipe":
            os.mkfifo(path)
        elif kind in ("link out", "loop"):
            path.symlink_to("/etc/hosts" if kind == "link out" else path.name)
        else:
            contents = {
                "binary": self.random.randbytes(5000),
                "zeros": bytes(5000),
                "gzip": b"\x1f\x8b\x08\0",
            }
            path.write_bytes(contents.get(kind, b""))

    def file_encoded(self):
        path = self.random.choice([*self.files, self.manifest])
        text = path.read_text(encoding="utf-8")
        ways = ["utf-16", "utf-16-be", "utf-32", "utf-8-sig", "latin-1", "cp037"]
        path.write_bytes(text.encode(self.random.choice(ways), errors="replace"))

    def bytes_flipped(self):
        path = self.random.choice([*self.files, self.manifest, self.manifest])
        data = bytearray(path.read_bytes())
        for _ in range(self.random.choice([1, 5, 50])):
            data[self.random.randrange(len(data))] ^= 1 << self.random.randrange(8)
        path.write_bytes(data)


def state(folder):
    """Names, kinds and contents of all that is in a folder."""

    def content(path):
        if path.is_symlink():
            return path.readlink()
        return path.read_bytes() if path.is_file() else path.stat().st_mode

    return {path: content(path) for path in sorted(folder.rglob("*"))}


def outcome(folder):
    """The kind of error of ours, or "result"; any other error gets through."""
    try:
        result = sb.compare(folder)
    except SpectralBenchError as error:
        return type(error).__name__ if "\0" not in str(error) else "unprintable"
    return "result" if result.sizes["source"] else "nothing"


@pytest.fixture(scope="module")
def smaller(small, without, tmp_path_factory):
    """The small bench without two of its five sources, which play no role that another does not."""
    to = tmp_path_factory.mktemp("mutations") / "smaller"
    folder = without(small, to, 'name = "LED 365"', 'name = "LED 385"')
    for name in ("led_365", "led_385"):
        (folder / f"raw/{name}.csv").unlink()
    return folder


def test_a_spoilt_bench_gives_a_result_or_an_error_of_ours(smaller, tmp_path):
    outcomes = Counter()
    for seed in range(COPIES):
        folder = shutil.copytree(smaller, tmp_path / str(seed))
        way = Spoiler(folder, seed).way
        before = state(folder)
        try:
            outcomes[outcome(folder)] += 1
        except Exception as error:
            error.add_note(f"seed {seed}: {way}")
            raise
        assert state(folder) == before, f"seed {seed}: {way}"
        shutil.rmtree(folder)
    # Many ways break a bench, and some do it no harm: both have to be met, or nothing was tried.
    assert set(outcomes) <= {"result", "BenchError", "RangeError"}
    assert outcomes["BenchError"] >= 0.4 * outcomes.total()
    assert outcomes["result"] >= 0.05 * outcomes.total()


def test_the_unspoilt_bench_gives_a_result(smaller):
    assert sb.compare(smaller).place.values.tolist() == [
        3,
        2,
        1,
    ]  # more is not known of the arc, whose frame is saturated
