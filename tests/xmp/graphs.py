"""A second opinion on sidecars: the standard library and rdflib, which share nothing with lxml."""

from __future__ import annotations

import codecs
import io
import xml.etree.ElementTree as ET

from rdflib import RDF, BNode, Graph, Literal, Namespace, URIRef
from rdflib.compare import isomorphic

from audit.xmp.known import Known

DC = Namespace("http://purl.org/dc/elements/1.1/")
OWN = "http://cornerstop.invalid/xmp/frame/1.0/"
BASE = "http://example.com/picture"
Q = f"{{{RDF}}}"
STANDARD = (DC.subject, DC.description)


def decoded(data: bytes) -> str:
    """The packet as text, by byte order mark or declaration."""
    for mark, name in (
        (codecs.BOM_UTF32_BE, "utf-32-be"),
        (codecs.BOM_UTF8, "utf-8"),
        (codecs.BOM_UTF16_LE, "utf-16-le"),
        (codecs.BOM_UTF16_BE, "utf-16-be"),
    ):
        if data.startswith(mark):
            return data[len(mark) :].decode(name)
    if data.startswith(b"<\0"):
        return data.decode("utf-16-le")
    return data.decode("latin-1" if b"ISO-8859-1" in data[:60] else "utf-8")


def element(data: bytes) -> ET.Element:
    """The outermost element."""
    text = decoded(data)
    return ET.fromstring(text.replace('encoding="UTF-16"', "").replace('encoding="ISO-8859-1"', ""))


def graph(data: bytes) -> Graph:
    """What the packet says."""
    root = element(data)
    inner = root if root.tag == f"{Q}RDF" else root.find(f"{Q}RDF")
    assert inner is not None
    for node in inner:
        if "about" in node.attrib:  # as XMP reads it
            node.set(f"{Q}about", node.attrib.pop("about"))
    return Graph().parse(io.BytesIO(ET.tostring(inner, encoding="utf-8")), format="xml", publicID=BASE)


def _without(graph: Graph, subject: object, name: URIRef) -> None:
    """Takes out a property with all that only it leads to."""
    for value in list(graph.objects(subject, name)):
        graph.remove((subject, name, value))
        if isinstance(value, BNode) and not any(graph.subjects(None, value)):
            for inner in list(graph.predicates(value)):
                _without(graph, value, inner)


def apart_from_ours(before: bytes, after: bytes, known: Known) -> tuple[Graph, Graph]:
    """Both graphs; from that of `after` is taken what this knowledge may have added."""
    old, new = graph(before), graph(after)
    for subject, name in set(new.subject_predicates()):
        if str(name).startswith(OWN):
            _without(new, subject, name)
    for name in STANDARD:
        for subject, held in list(new.subject_objects(name)):
            if not any(old.objects(subject if isinstance(subject, URIRef) else None, name)):
                _without(new, subject, name)
                continue
            had = {str(word) for one in old.objects(None, name) for word in old.objects(one)}
            for position, word in list(new.predicate_objects(held)):
                theirs = str(word) in had or not isinstance(word, Literal)
                if position != RDF.type and not theirs and str(word) in (*known.keywords, known.description):
                    new.remove((held, position, word))
                    if name == DC.description:  # an empty one was filled
                        for one in list(old.objects(None, name)):
                            for triple in [t for t in old.triples((one, None, None)) if not str(t[2])]:
                                old.remove(triple)
    for full, words in known.simple.items():
        name = URIRef(full[1:].replace("}", ""))
        if not any(old.objects(None, name)):
            new.remove((None, name, Literal(words)))
    return old, new


def same(old: Graph, new: Graph) -> bool:
    """Whether two graphs say the same."""
    return isomorphic(old, new)


def canonical(data: bytes) -> str:
    """Canonical XML (C14N 2.0) of the outermost element, with comments."""
    text = decoded(data).replace('encoding="UTF-16"', "").replace('encoding="ISO-8859-1"', "")
    return ET.canonicalize(text, with_comments=True)
