"""An XMP packet as bytes and as a tree, and nothing lost on the way.

Only the outermost element becomes a tree. What stands before and after it (byte order mark, XML declaration,
the packet's wrapper and padding) is kept as it is, and so are encoding and line ends. Bytes are data of
strangers: size, depth and number of elements are bounded, and a document type, without which no entity can be
declared, is refused before lxml sees anything.

Sources: XMP specification, edition of September 2005: page 22 for the outer elements and the encodings, page
36 for a file of its own; XML 1.0, appendix F, from memory, for how an encoding is known.
"""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass
from xml.parsers import expat

from lxml import etree

from audit.xmp.names import ABOUT, DESCRIPTION, LIST, META, RDF

MOST_BYTES = 8_000_000
"""Sidecars with masks and histories reach a few MB; larger ones are not read."""
DEEPEST, MOST_ELEMENTS, MOST_ATTRIBUTES = 100, 200_000, 2_000
_MARKS = (
    *((codecs.BOM_UTF32_LE, "utf-32-le"), (codecs.BOM_UTF32_BE, "utf-32-be"), (codecs.BOM_UTF8, "utf-8")),
    *((codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be")),
)
_STARTS = ((b"<\0\0\0", "utf-32-le"), (b"\0\0\0<", "utf-32-be"), (b"<\0", "utf-16-le"), (b"\0<", "utf-16-be"))
_DECLARED = re.compile(rb"<\?xml[^>]*?\bencoding\s*=\s*[\"']([\w.-]+)")
_BYTEWISE = {"utf-8": "utf-8", "us-ascii": "ascii", "iso-8859-1": "latin-1"}
_NEW = f"""<?xml version="1.0" encoding="UTF-8"?>
<x:xmpmeta xmlns:x="{META}">
 <rdf:RDF xmlns:rdf="{RDF}">
 </rdf:RDF>
</x:xmpmeta>
"""


class NotXmpError(ValueError):
    """Bytes that are no XMP packet, or none that may be read; the message says why."""


@dataclass(frozen=True)
class Packet:
    """The tree of the outermost element, and what is around it; `mark` is the byte order mark."""

    root: etree._Element
    head: str
    tail: str
    mark: bytes = b""
    encoding: str = "utf-8"
    crlf: bool = False

    @property
    def text(self) -> str:
        """The packet as text, with LF for line ends."""
        return self.head + _written(self.root) + self.tail

    @property
    def data(self) -> bytes:
        """The packet as bytes."""
        body = _written(self.root)
        text = self.head + (body.replace("\n", "\r\n") if self.crlf else body) + self.tail
        return self.mark + text.encode(self.encoding, "xmlcharrefreplace")

    @property
    def nodes(self) -> list[etree._Element]:
        """The elements that describe the picture: all rdf:Description of the list with its rdf:about."""
        found = [node for node in the_list(self.root) if node.tag == DESCRIPTION]
        return [node for node in found if about(node) == about(found[0])]


def read(data: bytes) -> Packet:
    """The packet in these bytes. Raises NotXmpError."""
    if len(data) > MOST_BYTES:
        raise NotXmpError(f"is larger than {MOST_BYTES // 1_000_000} MB")
    mark, encoding = _encoding(data)
    try:
        text = data[len(mark) :].decode(encoding)
    except UnicodeDecodeError:
        raise NotXmpError(f"is no {encoding} text, as which it begins") from None
    start, end = _place(text)
    body = text[start:end]
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False, strip_cdata=False)
    try:
        root = etree.fromstring(body, parser)
    except etree.XMLSyntaxError as error:
        raise NotXmpError(f"is no XML ({error.msg})") from None
    the_list(root)
    crlf = "\n" in body and body.count("\r\n") == body.count("\n")
    return Packet(root, text[:start], text[end:], mark, encoding, crlf)


def new() -> Packet:
    """A packet that says nothing yet: UTF-8 with an XML declaration, as for a file of its own."""
    return read(_NEW.encode("utf-8"))


def the_list(root: etree._Element) -> etree._Element:
    """The one rdf:RDF: the outermost element, or within it. Raises NotXmpError."""
    found = [root] if root.tag == LIST else [child for child in root if child.tag == LIST]
    if len(found) != 1:
        raise NotXmpError("holds no rdf:RDF" if not found else "holds more than one rdf:RDF")
    return found[0]


def about(node: etree._Element) -> str:
    """What a description says that it is of; mostly nothing. Old packets write it without a namespace."""
    return node.get(ABOUT) or node.get("about") or ""


def _written(root: etree._Element) -> str:
    return etree.tostring(root, encoding="unicode", with_tail=False)


def _encoding(data: bytes) -> tuple[bytes, str]:
    """Byte order mark and encoding."""
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return mark, encoding
    for start, encoding in _STARTS:
        if data.startswith(start):
            return b"", encoding
    found = _DECLARED.match(data)
    name = found[1].decode("ascii", "replace").lower() if found else "utf-8"
    if name not in _BYTEWISE:
        raise NotXmpError(f"says that it is written in {name}, which XMP has not")
    return b"", _BYTEWISE[name]


class _Outline:
    """Follows the elements, counts them, and keeps where the outermost one begins and ends, in UTF-8."""

    def __init__(self, data: bytes) -> None:
        self.start = self.end = -1
        self._data, self._depth, self._count = data, 0, 0
        self._parser = expat.ParserCreate("utf-8", namespace_separator=" ")
        self._parser.StartDoctypeDeclHandler = self._refuse
        self._parser.StartElementHandler = self._open
        self._parser.EndElementHandler = self._close
        try:
            self._parser.Parse(data, True)
        except expat.ExpatError as error:
            raise NotXmpError(f"is no XML ({error})") from None

    def _refuse(self, *_: object) -> None:
        raise NotXmpError("holds a document type, which XMP has not")

    def _open(self, _name: str, attributes: dict[str, str]) -> None:
        if self._depth == 0:
            self.start = self._parser.CurrentByteIndex
        self._depth += 1
        self._count += 1
        if self._depth > DEEPEST:
            raise NotXmpError("is nested too deep")
        if self._count > MOST_ELEMENTS or len(attributes) > MOST_ATTRIBUTES:
            raise NotXmpError("has too many elements")

    def _close(self, _name: str) -> None:
        self._depth -= 1
        if self._depth == 0:
            at = self._parser.CurrentByteIndex  # of the end tag, or behind an element that has none
            self.end = self._data.index(b">", at) + 1 if self._data.startswith(b"</", at) else at


def _place(text: str) -> tuple[int, int]:
    """Where the outermost element begins and ends in the text. Raises NotXmpError."""
    data = text.encode("utf-8", "replace")
    found = _Outline(data)
    start = len(data[: found.start].decode("utf-8"))
    return start, start + len(data[found.start : found.end].decode("utf-8"))
