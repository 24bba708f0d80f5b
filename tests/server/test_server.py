"""The server part of the extension, over HTTP: what it answers, and all that it refuses."""

from __future__ import annotations

import json
import os
import re
import shutil
import time
import urllib.error
import urllib.parse
import urllib.request

import numpy as np
import pytest

import spectralbench as sb
from spectralbench.payload import unpack
from spectralbench.server.files import LARGEST
from spectralbench.server.promptness import prompt

TOKEN = "a-token-for-tests"
NONE_SUCH = "no such file below the server's root"


@pytest.fixture(scope="module")
def root(demo, tmp_path_factory):
    """What the server may show, beside something that it may not."""
    place = tmp_path_factory.mktemp("served")
    (place / "secret.csv").write_text("wavelength [nm],counts\n400,1\n401,2\n402,1\n", encoding="utf-8")
    root = place / "root"
    shutil.copytree(demo / "raw", root / "raw")
    shutil.copy(demo / "raw" / "led_405.csv", root / "a name, with ünusual (signs) & so on.csv")
    (root / "bad.csv").write_text(
        "wavelength [nm],counts\n400,1\n401,zwei\n402,1\n403,<b>\n", encoding="utf-8"
    )
    (root / ".hidden.csv").write_text("wavelength [nm],counts\n400,1\n401,2\n402,1\n", encoding="utf-8")
    (root / "out.csv").symlink_to(place / "secret.csv")
    (root / "within.csv").symlink_to(root / "raw" / "led_405.csv")
    (root / "round.csv").symlink_to(root / "round.csv")
    os.mkfifo(root / "pipe.csv")
    with (root / "large.csv").open("wb") as file:
        file.truncate(LARGEST + 1)  # which takes no room on the disk
    return root


@pytest.fixture(scope="module")
def server(root, serve):
    return serve(root, TOKEN)


@pytest.fixture
def ask(server):
    """Ask our part of the server; the status, the type and the bytes of its answer."""

    def asked(name, token=TOKEN, raw="", headers=None, **query):
        address = f"{server}spectralbench/{name}?{raw or urllib.parse.urlencode(query)}"
        sent = ({"Authorization": f"token {token}"} if token else {}) | (headers or {})
        try:
            with urllib.request.urlopen(urllib.request.Request(address, headers=sent), timeout=30) as answer:
                return answer.status, answer.headers["Content-Type"], answer.read()
        except urllib.error.HTTPError as error:
            with error:
                return error.code, error.headers["Content-Type"], error.read()

    return asked


def test_a_file_comes_as_it_was_read(ask, root):
    status, kind, data = ask("spectra", path="raw/led_405.csv")
    assert (status, kind) == (200, "application/octet-stream")
    header, arrays = unpack(data)
    read = sb.read(root / "raw" / "led_405.csv")
    assert header["records"][0]["sha256"] == read.attrs["sha256"]
    assert header["records"][0]["file"] == "led_405.csv"
    assert len(header["curves"]) == read.sizes["spectrum"]
    for curve, values in zip(header["curves"], read.counts.values, strict=True):
        assert np.array_equal(arrays[curve["y"]], values.astype(np.float32))
    assert str(root) not in json.dumps(header)  # where it lies is nobody's business


def test_names_may_be_unusual(ask):
    status, _, data = ask("spectra", path="a name, with ünusual (signs) & so on.csv")
    assert status == 200
    assert unpack(data)[0]["records"][0]["file"] == "a name, with ünusual (signs) & so on.csv"


def test_figures_are_those_of_the_package(ask, root):
    status, kind, data = ask("figures", path="raw/led_405.csv", quantity="counts", low=390, high=420)
    assert (status, kind) == (200, "application/json")
    said = json.loads(data)
    found, read = said["figures"], sb.read(root / "raw" / "led_405.csv")
    assert said["sha256"] == read.attrs["sha256"]
    counts = read.counts
    assert found["peak_wavelength"]["curves"][2]["value"] == pytest.approx(
        sb.peak_wavelength(counts.sel(wavelength=slice(390, 420))).values[2]
    )
    assert found["centroid_wavelength"]["curves"][0]["value"] == pytest.approx(
        sb.centroid_wavelength(counts, 390, 420).values[0]
    )
    assert found["peak_wavelength"]["mean"]["units"] == "nm"
    assert found["mean"]["mean"]["value"] > 0


def test_a_file_that_cannot_be_read_is_refused_in_the_words_of_the_reader(ask, root):
    status, kind, data = ask("spectra", path="bad.csv")
    assert (status, kind) == (422, "application/json")
    said = json.loads(data)
    with pytest.raises(sb.ReadError) as error:
        sb.read(root / "bad.csv")
    assert said["message"] == str(error.value).replace(str(root / "bad.csv"), "bad.csv")
    assert [fault["line"] for fault in said["faults"]] == [fault.line for fault in error.value.faults]
    assert {"line": 3, "text": "401,zwei"} in said["lines"]
    assert str(root) not in data.decode()


@pytest.mark.parametrize(
    "path", ["out.csv", "round.csv", "pipe.csv", ".hidden.csv", "raw", "", "nothing.csv"]
)
def test_what_is_no_file_below_the_root_does_not_exist(ask, root, path):
    """A link out of the root, one to itself, a pipe, a hidden file, a folder, no name: one answer."""
    started = time.monotonic()
    status, _, data = ask("spectra", path=path)
    assert status == 404
    assert NONE_SUCH in data.decode()
    assert str(root) not in data.decode()
    assert "secret" not in data.decode()
    assert time.monotonic() - started < 5  # nobody waits for the other end of a pipe


TRAVERSALS = [
    "path=../secret.csv",
    "path=raw/../../secret.csv",
    "path=%2e%2e%2fsecret.csv",
    "path=..%5csecret.csv",
    "path=%252e%252e%252fsecret.csv",
    "path=/../secret.csv",
    "path=....//secret.csv",
    "path=%c0%ae%c0%ae/secret.csv",
    "path=..%00/secret.csv",
]


@pytest.mark.parametrize("name", ["spectra", "figures"])
@pytest.mark.parametrize("spelling", TRAVERSALS)
def test_no_spelling_leads_out_of_the_root(ask, root, spelling, name):
    status, _, data = ask(name, raw=f"{spelling}&quantity=counts&low=400&high=402")
    assert status in (400, 404), spelling
    assert b"counts" not in data
    assert str(root.parent).encode() not in data


def test_an_absolute_path_counts_from_the_root(ask, root):
    status, _, data = ask("spectra", path=str(root.parent / "secret.csv"))
    assert status == 404
    assert str(root.parent) not in data.decode()


def test_a_link_within_the_root_is_a_file(ask):
    assert ask("spectra", path="within.csv")[0] == 200


def test_too_large_a_file_is_not_read(ask):
    status, _, data = ask("spectra", path="large.csv")
    assert status == 413
    assert "at most 64 MB are opened here: read it in a notebook, or split it" in data.decode()


@pytest.mark.parametrize("name", ["spectra", "figures"])
@pytest.mark.parametrize("token", ["", "a-wrong-token"])
def test_nobody_asks_without_a_token(ask, token, name):
    status, _, data = ask(name, token=token, path="raw/led_405.csv", quantity="counts", low=390, high=420)
    assert status == 403
    assert b"counts" not in data
    assert b"SBP1" not in data


def test_a_huge_header_is_refused(ask):
    """The server's own limit, which our part does not lift."""
    try:
        status = ask("spectra", path="raw/led_405.csv", headers={"X-Long": "x" * 200_000})[0]
    except OSError:  # the server closes the connection while the header is still sent
        return
    assert status in (400, 431)


def test_the_header_of_a_file_may_be_long_and_is_cut_nowhere(ask, root):
    lines = "".join(f"# note {i}: {'x' * 500}\n" for i in range(2000))
    (root / "long.csv").write_text(f"{lines}wavelength [nm],counts\n400,1\n401,2\n402,1\n", encoding="utf-8")
    status, _, data = ask("spectra", path="long.csv")
    assert status == 200
    assert len(unpack(data)[0]["records"][0]["header"]) == 2000


@pytest.mark.parametrize(
    ("query", "status", "words"),
    [
        ({"low": "here", "high": 420}, 400, "low is a wavelength in nm"),
        ({"low": 420, "high": 390}, 400, "420"),
        ({"low": 2000, "high": 3000}, 400, "2000"),
        ({"low": "nan", "high": 420}, 400, "nan"),
        ({"low": 390, "high": 420, "quantity": "light"}, 400, "there is no 'light' along the wavelength"),
        ({"low": 390, "high": 420, "path": "bad.csv"}, 422, "zwei"),
    ],
)
def test_figures_that_nobody_can_give_are_refused_in_words(ask, query, status, words):
    found, _, data = ask("figures", **({"path": "raw/led_405.csv", "quantity": "counts"} | query))
    assert found == status
    assert words in data.decode()


def test_a_band_between_two_samples_has_an_area_and_no_shape(ask, root):
    """Against the trapezoid by hand: from 100 at 400 nm to 300 at 402 nm, the line has 210 at 401.1 nm."""
    (root / "narrow.csv").write_text(
        "wavelength [nm],spectral irradiance [W m-2 nm-1]\n398,0\n400,100\n402,300\n404,0\n", encoding="utf-8"
    )
    query = {"path": "narrow.csv", "quantity": "spectral_irradiance", "low": 401, "high": 401.2}
    status, _, data = ask("figures", **query)
    assert status == 200
    said = json.loads(data)
    assert said["figures"]["irradiance"]["mean"]["value"] == pytest.approx(0.2 * 210)
    assert said["figures"]["irradiance"]["curves"][0]["text"] == "4.2 mW/cm²"
    for name in ("peak_wavelength", "centre_wavelength", "fwhm"):
        assert said["figures"][name]["mean"] == {"value": None, "units": "nm", "text": "not known"}
    assert said["notes"] == ["a peak and its width need at least 3 wavelengths; this band has 0"]
    (root / "several.csv").write_text(
        "wavelength [nm],counts a [1],counts b [1]\n400,1,2\n402,3,4\n404,5,-6\n", encoding="utf-8"
    )
    said = json.loads(ask("figures", path="several.csv", quantity="counts", low=400, high=401)[2])
    assert [one["value"] for one in said["figures"]["mean"]["curves"]] == pytest.approx([1.5, 2.5])


def test_what_is_no_figure_of_the_light_is_said_beside_it(ask, root):
    def notes(counts, low=400, high=404, name="counts [1]"):
        rows = "".join(f"{400 + i},{count}\n" for i, count in enumerate(counts))
        (root / "noted.csv").write_text(f"wavelength [nm],{name}\n{rows}", encoding="utf-8")
        os.utime(root / "noted.csv", ns=(time.time_ns(), time.time_ns()))
        quantity = name.partition(" [")[0]
        return json.loads(ask("figures", path="noted.csv", quantity=quantity, low=low, high=high)[2])["notes"]

    (raw,) = notes([100, 101, 900, 101, 100])
    assert "raw counts, not of the light: the dark is still in them" in raw
    assert notes([1, -1, 900, 1, 2]) == []  # the dark was subtracted
    _, full = notes([100, 65535, 65535, 101, 100])
    assert full.endswith("the frame looks saturated: its peak and width are not those of the light")
    assert len(notes([100, 65535, 120, 101, 100], low=402, high=404)) == 1
    (part,) = notes([0.1, 0.2, 0.3, 0.2, 0.1], high=410, name="transmittance [1]")
    assert part == "measured only over 400–404 nm of the band 400–410 nm"


def test_a_file_that_changes_is_read_again(ask, root):
    path = root / "changing.csv"
    table = "wavelength [nm],counts\n400,1\n401,{}\n402,1\n"
    path.write_text(table.format(2), encoding="utf-8")
    assert 2.0 in unpack(ask("spectra", path="changing.csv")[2])[1]["y0"]
    path.write_text(table.format(3), encoding="utf-8")
    os.utime(path, ns=(1, 1))
    header, arrays = unpack(ask("spectra", path="changing.csv")[2])
    assert 3.0 in arrays["y0"]
    path.write_text(table.format(4), encoding="utf-8")
    os.utime(path, ns=(2, 2))
    said = json.loads(ask("figures", path="changing.csv", quantity="counts", low=400, high=402)[2])
    assert said["sha256"] == sb.read(path).attrs["sha256"] != header["records"][0]["sha256"]
    path.unlink()
    assert ask("figures", path="changing.csv", quantity="counts", low=400, high=402)[0] == 404


def test_nothing_can_be_written(server):
    request = urllib.request.Request(
        f"{server}spectralbench/spectra?path=raw/led_405.csv",
        data=b"x",
        method="PUT",
        headers={"Authorization": f"token {TOKEN}"},
    )
    with pytest.raises(urllib.error.HTTPError, match=re.compile("405|403")):
        urllib.request.urlopen(request, timeout=10)


def test_a_kernel_answers_without_waiting_for_its_first_word_to_be_acknowledged():
    """Whatever connection the server uses, it is told not to keep small messages back, before it connects."""
    done = []

    class Handler:
        def set_nodelay(self, value):
            done.append(value)

    class Connection:
        websocket_handler = Handler()

        def connect(self):
            done.append("connected")
            return "as before"

    assert prompt(Connection)().connect() == "as before"
    assert done == [True, "connected"]
