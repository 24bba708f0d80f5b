"""The readers as an engine of xarray."""

import gzip
import os
from io import BytesIO

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import ReadError, UnitsError
from spectralbench.readers import looks_readable, read, read_many

FRAME = b"# lamp: invented\nwavelength [nm],counts [1]\n365,5\n366,6\n"
BARE = b"365;5,5\n366;6,5\n367;7,5\n"


@pytest.fixture
def frame(tmp_path):
    path = tmp_path / "frame.csv"
    path.write_bytes(FRAME)
    return path


def test_the_engine_is_installed():
    assert "spectralbench" in xr.backends.list_engines()


def test_open_dataset_reads_what_read_reads(frame):
    xr.testing.assert_identical(xr.open_dataset(frame, engine="spectralbench"), read(frame))
    xr.testing.assert_identical(xr.open_dataset(str(frame)), read(frame))  # guessed


def test_the_keywords_of_read_are_taken(tmp_path):
    path = tmp_path / "part.txt"
    path.write_bytes(BARE)
    opened = xr.open_dataset(path, engine="spectralbench", quantity="transmittance", units="%")
    np.testing.assert_allclose(opened.transmittance, [0.055, 0.065, 0.075])
    with pytest.raises(UnitsError, match="not a unit"):
        xr.open_dataset(path, engine="spectralbench", units="lamp")


def test_variables_can_be_left_out(frame):
    assert not xr.open_dataset(frame, engine="spectralbench", drop_variables="counts").data_vars
    assert xr.open_dataset(frame, engine="spectralbench", drop_variables=["none"]).data_vars


def test_dask_reads_later(frame):
    opened = xr.open_dataset(frame, engine="spectralbench", chunks={})
    assert opened.counts.chunks == ((2,),)
    np.testing.assert_array_equal(opened.counts, [5, 6])


def test_several_files_stack(tmp_path):
    paths = []
    for k in range(3):
        paths.append(tmp_path / f"frame {k}.csv")
        paths[-1].write_text(f"wavelength [nm],counts [1]\n365,{k}\n366,{k + 1}\n")
    opened = xr.open_mfdataset(
        paths, engine="spectralbench", combine="nested", concat_dim="spectrum", join="exact"
    )
    assert opened.counts.dims == ("spectrum", "wavelength")
    np.testing.assert_array_equal(opened.counts, [[0, 1], [1, 2], [2, 3]])
    assert opened.counts.attrs["units"] == "1"


def test_a_tree_of_one_block(frame):
    tree = xr.open_datatree(frame, engine="spectralbench")
    xr.testing.assert_identical(tree.to_dataset(), read(frame))
    assert list(xr.open_groups(frame, engine="spectralbench")) == ["/"]


def test_a_bad_file_keeps_its_message(tmp_path):
    path = tmp_path / "frame.csv"
    path.write_bytes(FRAME + b"367,x\n")
    with pytest.raises(ReadError, match='line 5, column 2: found "x"'):
        xr.open_dataset(path, engine="spectralbench")
    with pytest.raises(ReadError, match="an object of type BytesIO; expected the path of a file"):
        xr.open_dataset(BytesIO(FRAME), engine="spectralbench")


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("frame.csv", FRAME),
        ("frame.nc", FRAME),  # the name does not count
        ("frame", gzip.compress(FRAME, mtime=0)),
        ("bare.txt", BARE),
        ("long.csv", FRAME + b"".join(b"%d,1\n" % k for k in range(367, 90_000))),
        ("header.csv", b"# note: long\n" * 9_000 + FRAME),
        ("utf16.csv", FRAME.decode().encode("utf-16")),
    ],
)
def test_ours_by_content(tmp_path, name, data):
    (tmp_path / name).write_bytes(data)
    assert looks_readable(tmp_path / name)


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("frame.csv", b""),
        ("frame.csv", b"\x89HDF\r\n\x1a\n"),
        ("frame.csv", b"PK\x03\x04"),
        ("frame.csv", b"CDF\x01"),
        ("frame.csv.gz", b"\x1f\x8b\x00\x00"),
        ("frame.csv.gz", gzip.compress(b"\x89HDF\r\n\x1a\n", mtime=0)),
        ("letter.txt", b"Dear colleague,\n\n3 lamps have arrived, all in good order.\nYours\n"),
        ("code.py", b"import os\n\nprint(1, 2)\n"),
        ("one row.csv", b"365,1\n"),
    ],
)
def test_not_ours_by_content(tmp_path, name, data):
    (tmp_path / name).write_bytes(data)
    assert not looks_readable(tmp_path / name)


def test_not_ours_by_kind(tmp_path):
    assert not looks_readable(tmp_path)
    assert not looks_readable(tmp_path / "nothing")
    assert not looks_readable("a name\0that no file can have")
    os.mkfifo(tmp_path / "pipe")
    assert not looks_readable(tmp_path / "pipe")


def test_other_engines_keep_their_files(frame, tmp_path):
    read(frame).drop_attrs().to_netcdf(tmp_path / "frame.nc", engine="h5netcdf")
    assert not looks_readable(tmp_path / "frame.nc")
    assert xr.open_dataset(tmp_path / "frame.nc").counts.size == 2


BLOCK = """##TITLE= {title}
##DATA TYPE= UV/VIS SPECTRUM
##XUNITS= NANOMETERS
##YUNITS= {units}
##FIRSTX= 400
##LASTX= 402
##NPOINTS= 3
##XFACTOR= 1
##YFACTOR= 0.1
##XYDATA= (X++(Y..Y))
400 1 2 3
##END=
"""


@pytest.fixture
def unlike(tmp_path):
    """A lamp and a part, invented, in one file."""
    blocks = BLOCK.format(title="lamp", units="W/M2/NM") + BLOCK.format(title="part", units="TRANSMITTANCE")
    path = tmp_path / "both.jdx"
    path.write_text(f"##TITLE= both\n##JCAMP-DX= 4.24\n##DATA TYPE= LINK\n##BLOCKS= 2\n{blocks}##END=\n")
    return path


def test_a_file_with_unlike_spectra_is_a_tree(unlike):
    tree = xr.open_datatree(unlike, engine="spectralbench", drop_variables="transmittance")
    assert list(tree.children) == ["block_1", "block_2"]
    np.testing.assert_allclose(tree["block_1/spectral_irradiance"], [0.1, 0.2, 0.3])
    assert not tree["block_2"].data_vars
    assert list(xr.open_groups(unlike, engine="spectralbench")) == ["/", "/block_1", "/block_2"]


@pytest.mark.parametrize(
    ("open_it", "advice"),
    [
        (lambda path: xr.open_dataset(path, engine="spectralbench"), "Open it with xarray.open_datatree"),
        (lambda path: read_many([path]), "Read this file by itself"),
    ],
)
def test_a_file_with_unlike_spectra_is_no_dataset(unlike, open_it, advice):
    expected = f"found 2 blocks that hold unlike spectra; expected spectra of one kind. {advice}"
    with pytest.raises(ReadError, match=expected):
        open_it(unlike)
