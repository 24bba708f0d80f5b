"""Lines on which the keys of a TOML text stand, for messages."""

from __future__ import annotations

import re

_TABLE = re.compile(r"\s*(\[{1,2})\s*([^\[\]]+?)\s*\]{1,2}")
_KEY = re.compile(r"\s*([A-Za-z0-9_.\"'-]+)\s*=")
_LONG_TEXT = re.compile(r"\"{3}|'{3}")


class Lines:
    """Lines of the keys of a TOML text; the reader of the language keeps none.

    Parameters
    ----------
    text : str
        The text, as it stands in the file.
    """

    def __init__(self, text: str) -> None:
        self.lines: dict[str, int] = {}
        counts: dict[str, int] = {}
        table = ""
        inside = False  # of a text over several lines
        for number, line in enumerate(text.split("\n"), 1):
            if not inside:
                if match := _TABLE.match(line):
                    table = _numbered(match[2].replace(" ", ""), counts, is_new=match[1] == "[[")
                    self.lines.setdefault(table, number)
                    self.lines.setdefault(re.sub(r"\.\d+$", "", table), number)  # the first of several
                elif match := _KEY.match(line):
                    key = match[1].replace('"', "").replace("'", "")
                    self.lines.setdefault(f"{table}.{key}".lstrip("."), number)
            if len(_LONG_TEXT.findall(line)) % 2:
                inside = not inside

    def __call__(self, key: str) -> int | None:
        """The line of a dotted key, or of the nearest table around it."""
        while key:
            if key in self.lines:
                return self.lines[key]
            key = key.rpartition(".")[0]
        return None


def _numbered(name: str, counts: dict[str, int], *, is_new: bool) -> str:
    """The table's name with the number of each array item in it: ``source.2.frame``."""
    parts = name.split(".")
    path = ""
    for depth, part in enumerate(parts):
        path = f"{path}.{part}".lstrip(".")
        if is_new and depth == len(parts) - 1:
            counts[path] = counts.get(path, 0) + 1
        if path in counts:
            path = f"{path}.{counts[path]}"
    return path
