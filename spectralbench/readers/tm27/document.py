"""XML, read as if it meant harm: no document type, no entities, nothing from outside, and limits.

A document type declaration is refused where it begins, before anything in it is understood. So
there are no entities but the five that XML has, nothing that grows and nothing that is fetched.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Callable
from typing import NamedTuple
from xml.parsers import expat

from spectralbench.errors import Fault, ReadError, printable, quote
from spectralbench.readers.content import Content

_SIZE = 8 * 2**20  # characters
_ELEMENTS, _DEPTH = 50_000, 8
_ATTRIBUTES, _ATTRIBUTE, _NAME = 16, 1_000, 200
_BETWEEN = 2**16  # characters from one "<" to the next: a tag and the text after it
_INCLUSION = "http://www.w3.org/2001/XInclude"
_DECLARED = re.compile(r"""<\?xml\s[^>]{0,200}?\sencoding\s*=\s*["']([^"']{0,60})["']""")
_STARTS = re.compile(r"\s*(?:<\?xml\s|<!--|<!DOCTYPE\b|<(?P<name>[^\W\d][\w.:-]*)[\s/>])")
_UNICODE = ("utf-8", "utf-16", "utf-32")
_ONE_BYTE = re.compile(r"ascii|iso8859-\d+|cp125\d")
_EXPECTED = "XML without a document type, entities and inclusions"
_SAFETY = "Ask for a file without it; such a file could make a reader open others"


class Tag(NamedTuple):
    """The start of an element."""

    name: str
    namespace: str
    attributes: dict[str, str]
    depth: int  # of the root: 0
    line: int
    column: int


def recognises(content: Content) -> bool:
    """Tell whether a file is XML, by its first characters.

    Parameters
    ----------
    content : Content
        The file.

    Returns
    -------
    bool
        Whether it begins as XML does.

    Examples
    --------
    >>> recognises(Content("", "", "", b"", '<?xml version="1.0"?><IESTM2714/>', "UTF-8", False))
    True
    """
    match = _STARTS.match(content.text[:1000])
    if match is None:
        return False
    return match["name"] is None or content.text[-100:].rstrip().endswith(">")


def walk(text: str, path: str, start: Callable[[Tag], None], end: Callable[[Tag, str], None]) -> None:
    """Go through a document, element by element.

    Parameters
    ----------
    text : str
        The document.
    path : str
        The file, for messages.
    start : callable
        Called with each tag that opens.
    end : callable
        Called with each tag that closes, and the text that stood directly in it.

    Raises
    ------
    ReadError
        If the document is no XML, or holds what is refused.

    Examples
    --------
    >>> seen = []
    >>> walk("<a><b c='1'>2</b></a>", "example.xml", lambda tag: None, lambda *end: seen.append(end))
    >>> seen[0]
    (Tag(name='b', namespace='', attributes={'c': '1'}, depth=1, line=1, column=4), '2')
    """
    _bound(text, path)
    parser = expat.ParserCreate(namespace_separator=" ", intern=None)  # names are not kept
    parser.buffer_text = True
    parser.ordered_attributes = True  # a list: many attributes cost no dictionary
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
    open_tags: list[tuple[Tag, list[str]]] = []
    elements = 0

    def refuse(found: str, advice: str, expected: str = _EXPECTED) -> ReadError:
        place = parser.CurrentLineNumber, parser.CurrentColumnNumber + 1
        return ReadError(path, [Fault(found, expected, advice, *place)])

    def on_start(name: str, attributes: list[str]) -> None:
        nonlocal elements
        elements += 1
        if elements > _ELEMENTS:
            raise refuse(f"more than {_ELEMENTS} elements", "Is this one spectrum?", "a spectrum")
        if len(open_tags) >= _DEPTH:
            raise refuse(f"elements more than {_DEPTH} deep", "Is this a spectrum?", "a spectrum")
        if len(attributes) > 2 * _ATTRIBUTES:
            raise refuse(f"an element with {len(attributes) // 2} attributes", "Take them out", "a few")
        if (longest := max(map(len, attributes), default=0)) > _ATTRIBUTE:
            raise refuse(f"an attribute of {longest} characters", "Shorten it", f"at most {_ATTRIBUTE}")
        namespace, _, local = name.rpartition(" ")
        if (longest := max(len(namespace), len(local))) > _NAME:
            raise refuse(f"an element with a name of {longest} characters", "Shorten it", f"at most {_NAME}")
        if namespace == _INCLUSION:
            raise refuse("an inclusion of another file (XInclude)", _SAFETY)
        pairs = dict(zip(attributes[::2], attributes[1::2], strict=True))
        place = parser.CurrentLineNumber, parser.CurrentColumnNumber + 1
        tag = Tag(local, namespace, pairs, len(open_tags), *place)
        open_tags.append((tag, []))
        start(tag)

    def on_end(_: str) -> None:
        tag, parts = open_tags.pop()
        end(tag, "".join(parts))

    def on_text(part: str) -> None:
        open_tags[-1][1].append(part)

    def on_doctype(*_: object) -> None:
        raise refuse("a document type declaration (<!DOCTYPE)", _SAFETY)

    parser.StartElementHandler = on_start
    parser.EndElementHandler = on_end
    parser.CharacterDataHandler = on_text
    parser.StartDoctypeDeclHandler = on_doctype
    try:
        parser.Parse(text, True)  # as text: what the file says of its encoding was looked at before
    except expat.ExpatError as error:
        found = f"XML that is not well formed: {expat.ErrorString(error.code)}"
        advice = "Was the file saved whole? Export it again"
        fault = Fault(found, "well-formed XML", advice, error.lineno, error.offset + 1)
        raise ReadError(path, [fault]) from error


def _bound(text: str, path: str) -> None:
    """Refuse what would take long, before any of it is parsed."""

    def refuse(found: str, expected: str, line: int | None = None) -> ReadError:
        return ReadError(path, [Fault(found, expected, "Is this one spectrum?", line)])

    if len(text) > _SIZE:
        raise refuse(
            f"{len(text) / 2**20:.0f} million characters of XML", f"at most {_SIZE // 2**20} million"
        )
    if (count := text.count("<")) > 3 * _ELEMENTS:
        raise refuse(f"{count} tags", f"at most {3 * _ELEMENTS}")
    start = 0
    while start <= len(text):
        at = text.find("<", start)
        end = len(text) if at < 0 else at
        if end - start > _BETWEEN:
            line = text.count("\n", 0, start) + 1
            raise refuse(
                f"more than {_BETWEEN} characters between two tags", "a short tag and its text", line
            )
        start = end + 1


def decoded(content: Content, chosen: str | None) -> str:
    """The text of an XML file, in the encoding that it declares.

    Parameters
    ----------
    content : Content
        The file.
    chosen : str or None
        The encoding that the caller chose, which stands above what the file says.

    Returns
    -------
    str
        The text.

    Raises
    ------
    ReadError
        If the bytes are not in the encoding that the file declares, or this is none that is read.

    Examples
    --------
    >>> data = "<?xml version='1.0' encoding='ISO-8859-1'?><a>ä</a>".encode("latin-1")
    >>> text = data.decode("latin-1")
    >>> decoded(Content("", "", "", data, text, "Latin-1", True), None)[-6:]
    '>ä</a>'
    """
    if chosen is not None:
        return content.text
    declared = _DECLARED.match(content.text.lstrip())
    stated = declared[1] if declared else "UTF-8"
    found = next((codec for codec in _UNICODE if content.encoding.lower().startswith(codec)), "")
    if found and declared is None:
        return content.text
    stated = printable(stated)  # codecs are looked up without what is no letter of a name
    try:
        codec = codecs.lookup(stated).name
    except (LookupError, ValueError):
        codec = ""
    if found and codec.startswith(found):
        return content.text
    marked = content.encoding.endswith("byte order mark")
    if not (_ONE_BYTE.fullmatch(codec) or codec.startswith(_UNICODE)):
        expected = "UTF-8, UTF-16 with a byte order mark, or one byte for each letter, such as ISO-8859-1"
        raise _refusal(content, f"the encoding {quote(stated)}", expected)
    if marked or not (_ONE_BYTE.fullmatch(codec) or codec == "utf-8"):
        raise _refusal(content, f"text in {content.encoding}", f"{stated}, as the file states")
    try:
        return content.data.decode(codec)
    except UnicodeDecodeError as error:
        expected = f"{stated}, as {'the file states' if declared else 'XML is that states no encoding'}"
        raise _refusal(content, f"bytes that are no {stated} (at byte {error.start})", expected) from error


def _refusal(content: Content, found: str, expected: str) -> ReadError:
    advice = "Save the file again as UTF-8, or choose the encoding on reading"
    return ReadError(content.path, [Fault(found, expected, advice, 1)])
