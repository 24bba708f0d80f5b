"""Something new by way of the server, and names looked up there: what it makes, and all that it refuses."""

from __future__ import annotations

import http.cookiejar
import json
import os
import urllib.error
import urllib.parse
import urllib.request

import pytest

import spectralbench as sb
import spectralbench.widgets
from spectralbench.benches.first_manifest import FIRST_MANIFEST
from spectralbench.benches.starting import TEMPLATES
from spectralbench.payload import unpack

TOKEN = "a-token-for-tests"
NO_PLACE = "no place for a folder below the server's root"


@pytest.fixture(scope="module")
def root(tmp_path_factory):
    """What the server may change, beside something that it may not."""
    place = tmp_path_factory.mktemp("served")
    root = place / "root"
    (root / "here").mkdir(parents=True)
    (root / "full").mkdir()
    (root / "full" / "mine.txt").write_text("mine", encoding="utf-8")
    (root / "locked").mkdir()
    (place / "outside").mkdir()
    (root / "out").symlink_to(place / "outside")
    (root / "within").symlink_to(root / "here")
    (root / "round").symlink_to(root / "round")
    light = sb.spectrum([0.0, 2.0, 2.0, 2.0, 0.0], [400, 401, 402, 403, 404], "spectral_irradiance")
    sb.write_spectra(root / "light.csv", light, {"title": "invented"})
    (root / "locked").chmod(0o555)
    yield root
    (root / "locked").chmod(0o755)


@pytest.fixture(scope="module")
def server(root, serve):
    return serve(root, TOKEN)


@pytest.fixture
def ask(server):
    """Ask for something new, or with a name for what is there; status and words of the answer."""

    def asked(what=None, folder="", token=TOKEN, body=None, name="new", opener=urllib.request, headers=None):
        data = body if body is not None else json.dumps({"what": what, "folder": folder}).encode()
        sent = ({"Authorization": f"token {token}"} if token else {}) | (headers or {})
        request = urllib.request.Request(
            f"{server}spectralbench/{name}",
            data if name == "new" else None,
            sent | {"Content-Type": "text/plain"},
        )
        open_it = opener.urlopen if opener is urllib.request else opener.open
        try:
            with open_it(request, timeout=30) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as error:
            with error:
                return error.code, error.read().decode()

    return asked


def below(place):
    return sorted(str(path.relative_to(place)) for path in place.rglob("*"))


@pytest.fixture
def unchanged(root):
    """Nothing was made, neither below the root nor beside it."""
    before = below(root.parent)
    yield
    assert below(root.parent) == before


@pytest.mark.parametrize(
    "folder", ["a bench", "here/of mine", "within/linked", "new/and deeper", "/Prüfstand/"]
)
def test_a_bench_is_made_where_it_was_asked_for(ask, root, folder):
    status, said = ask("bench", folder)
    assert (status, json.loads(said)) == (201, {"path": f"{folder.strip('/')}/bench.toml"})
    made = root / folder.strip("/")
    assert (made / "bench.toml").read_text(encoding="utf-8") == FIRST_MANIFEST
    assert list((made / "raw").iterdir()) == []


@pytest.mark.parametrize("what", TEMPLATES)
def test_a_notebook_takes_a_free_name(ask, root, what):
    for name in (f"{what}.ipynb", f"{what}_2.ipynb"):
        status, said = ask(what, "here")
        assert (status, json.loads(said)) == (201, {"path": f"here/{name}"})
        assert json.loads((root / "here" / name).read_text(encoding="utf-8"))["nbformat"] == 4
    assert json.loads(ask(what, "")[1]) == {"path": f"{what}.ipynb"}


@pytest.mark.usefixtures("unchanged")
def test_what_is_there_is_left_alone(ask, root):
    for folder in ("full", "light.csv"):
        status, said = ask("bench", folder)
        assert status == 409
        assert json.loads(said)["message"] == (
            f"{folder} cannot be used as it is: found something there already; expected a new or an empty "
            "folder. Name a new folder."
        )
        assert str(root.parent) not in said
    assert (root / "full" / "mine.txt").read_text(encoding="utf-8") == "mine"


@pytest.mark.usefixtures("unchanged")
@pytest.mark.parametrize("what", ["bench", "which_source"])
def test_where_nobody_may_write_nothing_is_left(ask, root, what):
    if os.access(root / "locked", os.W_OK) and os.geteuid() != 0:
        pytest.skip("this disk knows no read-only folders")
    status, said = ask(what, "locked/bench" if what == "bench" else "locked")
    assert status == 409
    assert "found Permission denied; expected a folder that can be written" in json.loads(said)["message"]
    assert str(root.parent) not in said


@pytest.mark.usefixtures("unchanged")
@pytest.mark.parametrize("what", ["bench", "which_source"])
@pytest.mark.parametrize(
    "folder",
    [
        *("..", "../outside", "here/../../outside", "/../outside", "....//outside", "here/..", "."),
        *("..\\outside", "%2e%2e/outside", "%2e%2e%2foutside", "..%2foutside", "\u2025/outside", "C:outside"),
        *("out", "out/bench", "round", "round/bench", ".hidden", "here/.hidden", ".hidden/bench"),
        *("here//bench", "null\0byte", "two\nlines", "x" * 300),
    ],
)
def test_no_spelling_leads_out_of_the_root(ask, root, what, folder):
    status, said = ask(what, folder)
    if status == 201:  # an odd name, and one that lies within
        made = root / json.loads(said)["path"]
        assert made.resolve().is_relative_to(root.resolve())
        made.unlink()
        (made.parent / "raw").rmdir()
        for place in (made.parent, made.parent.parent):
            if place != root:
                place.rmdir()
    else:
        assert status in (404, 409), folder
        assert any(words in said for words in (NO_PLACE, "no such folder", "File name too long"))
    assert str(root.parent) not in said


def test_an_absolute_path_counts_from_the_root(ask, root):
    status, said = ask("bench", str(root.parent / "outside" / "bench"))
    assert status == 201
    assert list((root.parent / "outside").iterdir()) == []
    assert (root / json.loads(said)["path"]).is_file()


@pytest.mark.usefixtures("unchanged")
@pytest.mark.parametrize("token", ["", "a-wrong-token"])
def test_nobody_makes_anything_without_a_token(ask, token):
    assert ask("bench", "stolen", token=token)[0] == 403
    assert ask(token=token, name="names")[0] == 403


@pytest.mark.usefixtures("unchanged")
def test_another_page_cannot_ask_with_the_cookie_of_somebody(ask, server):
    """Who is known by a cookie has to show that the page is the server's own."""
    jar = http.cookiejar.CookieJar()
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(jar))
    with opener.open(f"{server}?token={TOKEN}", timeout=30):
        pass
    assert ask(token="", name="names", opener=opener)[0] == 200  # so the cookie is one
    status, said = ask("bench", "forged", token="", opener=opener)
    assert status == 403
    assert "_xsrf" in said


@pytest.mark.usefixtures("unchanged")
@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"", "two texts are needed"),
        (b"[]", "two texts are needed"),
        (b'{"what": "bench"}', "two texts are needed"),
        (b'{"what": "bench", "folder": 3}', "two texts are needed"),
        (b'{"what": "bench", "folder": "/"}', "a bench needs a folder of its own"),
        (b'{"what": "../which_source", "folder": ""}', "is neither bench nor one of bench_spectra"),
        (b'{"what": "which_source", "folder": "nowhere"}', "no such folder below the server"),
        (b"{", "Invalid JSON"),
    ],
)
def test_what_cannot_be_made_is_refused_in_words(ask, body, words):
    status, said = ask(body=body)
    assert status in (400, 404)
    assert words in json.loads(said)["message"]


@pytest.mark.usefixtures("unchanged")
def test_a_look_makes_nothing(server):
    request = urllib.request.Request(
        f"{server}spectralbench/new?what=bench&folder=seen", headers={"Authorization": f"token {TOKEN}"}
    )
    with pytest.raises(urllib.error.HTTPError, match="405"):
        urllib.request.urlopen(request, timeout=10)


def test_names_are_those_of_the_package(ask):
    status, said = ask(name="names")
    assert status == 200
    found = {one["name"]: one for one in json.loads(said)}
    own = {f"pictures.{name}" for name in sb.pictures.__all__} | {
        f"widgets.{name}" for name in spectralbench.widgets.__all__
    }
    assert set(found) == set(sb.__all__) - {"__version__", "pictures"} | own
    band = found["band_irradiance"]
    assert band["first"] == sb.band_irradiance.__doc__.split("\n")[0]
    assert band["called"].endswith(", low, high)")
    assert band["call"] == band["called"]
    assert "Examples\n--------" in band["docstring"]
    assert found["transmittance"]["called"] == "sb.transmittance(sample, reference, dark=None)"
    assert found["pictures.comparison"]["call"] == "sb.pictures.comparison(result)"
    widget = found["widgets.LightPath"]
    assert widget["called"].startswith("LightPath(bench, draws=")
    assert widget["call"] == "from spectralbench.widgets import LightPath\nLightPath(bench)"
    assert found["transmittance"]["call"] == "sb.transmittance(sample, reference)"
    assert found["RangeError"]["call"] == "sb.RangeError"
    assert all(one["first"] for one in found.values())


def _get(server, name, **query):
    address = f"{server}spectralbench/{name}?{urllib.parse.urlencode({'path': 'light.csv', **query})}"
    sent = urllib.request.Request(address, headers={"Authorization": f"token {TOKEN}"})
    with urllib.request.urlopen(sent, timeout=30) as answer:
        return answer.read()


def test_irradiance_comes_in_the_unit_that_was_wished(server):
    """1 mW/cm² is 10 W/m²; 2 W/m²/nm over 2 nm, with a flank of 1 nm on both sides: 6 W/m²."""
    curves = {}
    for unit, values, text in (("mW/cm²", 0.2, "0.6 mW/cm²"), ("W/m²", 2.0, "6 W/m²")):
        header, arrays = unpack(_get(server, "spectra", irradiance=unit))
        (curves[unit],) = header["curves"]
        assert curves[unit]["units"] == f"{unit}/nm"
        assert arrays["y0"].max() == pytest.approx(values)
        asked = {"quantity": "spectral_irradiance", "low": 400, "high": 404, "irradiance": unit}
        found = json.loads(_get(server, "figures", **asked))["figures"]["irradiance"]
        assert [found["mean"]["text"], found["curves"][0]["text"]] == [text, text]
        assert found["mean"]["value"] == pytest.approx(6.0)  # always in the package's own
    usual, _ = unpack(_get(server, "spectra"))
    assert usual["curves"][0]["units"] == "mW/cm²/nm"
    with pytest.raises(urllib.error.HTTPError) as error:
        _get(server, "spectra", irradiance="lux")
    with error.value:
        assert error.value.code == 400
        said = json.loads(error.value.read())["message"]
    assert said == 'irradiance is shown in "mW/cm²" or "W/m²", not in "lux"'
