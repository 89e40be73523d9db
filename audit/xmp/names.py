"""Names in XMP, as lxml writes them: {namespace}name.

Sources: XMP specification, part 1 (ISO 16684-1) and part 2 for the standard ones; RFC 2606, section 2, for
the domain of our own, which nobody can own.
"""

from __future__ import annotations

RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
DC = "http://purl.org/dc/elements/1.1/"
PHOTOSHOP = "http://ns.adobe.com/photoshop/1.0/"
EXIF = "http://ns.adobe.com/exif/1.0/"
META = "adobe:ns:meta/"
XML = "http://www.w3.org/XML/1998/namespace"
OWN = "http://cornerstop.invalid/xmp/frame/1.0/"

PREFIXES = {"dc": DC, "photoshop": PHOTOSHOP, "exif": EXIF, "cornerstop": OWN}
"""What a namespace is called where the packet has no name for it yet."""

LIST, DESCRIPTION, ITEM, VALUE = (f"{{{RDF}}}{name}" for name in ("RDF", "Description", "li", "value"))
BAG, SEQ, ALT = (f"{{{RDF}}}{name}" for name in ("Bag", "Seq", "Alt"))
ABOUT, LANG = f"{{{RDF}}}about", f"{{{XML}}}lang"
SUBJECT, TEXT, TITLE, RIGHTS = (f"{{{DC}}}{name}" for name in ("subject", "description", "title", "rights"))
DATE_CREATED, F_NUMBER = f"{{{PHOTOSHOP}}}DateCreated", f"{{{EXIF}}}FNumber"
TIME_ORIGINAL = f"{{{EXIF}}}DateTimeOriginal"


def own(name: str) -> str:
    """A name in our own namespace."""
    return f"{{{OWN}}}{name}"


def short(name: str) -> str:
    """A name as people write it: dc:subject."""
    space, _, local = name[1:].partition("}")
    return f"{next((p for p, uri in PREFIXES.items() if uri == space), space)}:{local}"
