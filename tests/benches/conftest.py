"""Benches to test on: the demo, and a small copy of it that may be spoiled."""

from __future__ import annotations

import hashlib
import re
import shutil

import pytest

import spectralbench as sb
from spectralbench.errors import BenchError


@pytest.fixture(scope="session")
def hashes():
    """SHA-256 of every file in a folder."""

    def of(folder):
        return {
            str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in folder.rglob("*")
            if path.is_file()
        }

    return of


@pytest.fixture(scope="session")
def datasets():
    """Paths and datasets of all nodes of a tree that hold something."""
    return lambda tree: [(node.path, node.to_dataset()) for node in tree.subtree if node.data_vars]


@pytest.fixture(scope="session")
def before(demo, hashes):
    return hashes(demo)


@pytest.fixture(scope="session")
def opened(demo, before):
    return sb.open_bench(demo)


@pytest.fixture(scope="session")
def reduced(opened):
    return sb.reduce_bench(opened)


@pytest.fixture(scope="session")
def compared(reduced):
    return sb.compare(reduced)


_LATER = (
    r"^(profile|bond_width|reciprocity|oxygen_threshold|mercury|lamp_price|disposal_price|working_distance|"
    r"working_thickness|floor|collected|speed|passes|minimum_match|minimum_life|maximum_power|"
    r"maximum_mercury) = .*\n"
    r"|^\[(?:running|\[adhesive\.absorber\])\].*\n(?:[^\n\[].*\n)*"
)


@pytest.fixture(scope="session")
def plain():
    """Leaves out of a manifest what the demo says of spots, resin, limits and prices."""
    return lambda text: re.sub(_LATER, "", text, flags=re.MULTILINE)


@pytest.fixture(scope="session")
def lean(small, without, plain, tmp_path_factory):
    """The small bench without its second arc, radiometers, heat, and what `plain` leaves out.

    Whoever asks for less gets it in a third of the time. Nothing may change it.
    """
    to = tmp_path_factory.mktemp("benches") / "lean"
    folder = without(small, to, 'name = "arc, filtered"', "[[radiometer]]", "[heat")
    path = folder / "bench.toml"
    path.write_text(plain(path.read_text(encoding="utf-8")), encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def original(small):
    """What `bench` copies; a module may name a bench that is quicker."""
    return small


@pytest.fixture
def bench(original, tmp_path):
    """A copy of the small bench in which texts can be replaced: ``bench("raw/x.csv", old, new)``."""

    class Copy:
        folder = shutil.copytree(original, tmp_path / "bench")

        def __call__(self, file, old, new):
            path = self.folder / file
            text, count = re.subn(old, new, path.read_text(encoding="utf-8"), flags=re.MULTILINE)
            assert count, f"nothing in {file} matches {old}"
            path.write_text(text, encoding="utf-8")
            return self

        def manifest(self, old, new):
            return self("bench.toml", re.escape(old), new.replace("\\", r"\\"))

        def line_of(self, text):
            lines = (self.folder / "bench.toml").read_text(encoding="utf-8").splitlines()
            return next(i for i, line in enumerate(lines, 1) if text in line)

        def faults(self, job=sb.open_bench):
            with pytest.raises(BenchError) as caught:
                job(self.folder)
            for fault in caught.value.faults:
                assert fault.found
                assert fault.expected
                assert str(self.folder) in str(caught.value)
            return caught.value.faults

        def fault(self, job=sb.open_bench):
            (fault,) = self.faults(job)
            return fault

    return Copy()
