"""A file for tests of the readers."""

import pytest


@pytest.fixture
def file(tmp_path):
    """Write a file of text, or of bytes as they stand; a module may have a layout of its own."""

    def write(text, encoding="utf-8"):
        path = tmp_path / "file.txt"
        path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
        return path

    return write
