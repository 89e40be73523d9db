"""Properties of an XMP tree: read in each form that RDF allows for them, added and taken out without a trace.

Sources: XMP specification, edition of September 2005, pages 17 to 29, for forms, arrays, languages and what
XMP leaves out of RDF; part 1 (ISO 16684-1) says the same, from memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lxml import etree

from audit.xmp.names import ABOUT, ALT, BAG, DESCRIPTION, ITEM, LANG, OWN, PREFIXES, RDF, SEQ, VALUE

DEFAULT = "x-default"
"""The language of what is shown where none of a reader's languages is there (page 18)."""
_STEP = " "
_NUMBERED = f"{{{RDF}}}_"
Nodes = Sequence[etree._Element]
Value = str | tuple[str, ...]


def all_of(nodes: Nodes, name: str) -> list[etree._Element]:
    """Every element of that property; none where it is written as an attribute."""
    return [child for node in nodes for child in node if child.tag == name]


def find(nodes: Nodes, name: str) -> etree._Element | None:
    """The first of them."""
    return next(iter(all_of(nodes, name)), None)


def value(nodes: Nodes, name: str) -> str | None:
    """A simple property; None where it is not there or not simple."""
    for node in nodes:
        if (found := node.get(name)) is not None:
            return found
    element = find(nodes, name)
    return None if element is None or array(element) is not None else text(element)


def array(element: etree._Element) -> etree._Element | None:
    """The bag, sequence or choice of alternatives that a property holds."""
    inner = [child for child in element if isinstance(child.tag, str)]
    return inner[0] if len(inner) == 1 and inner[0].tag in (BAG, SEQ, ALT) else None


def members(held: etree._Element) -> list[etree._Element]:
    """The items of an array, those that RDF numbers (rdf:_1) too."""
    return [x for x in held if isinstance(x.tag, str) and (x.tag == ITEM or x.tag.startswith(_NUMBERED))]


def items(nodes: Nodes, name: str) -> tuple[str, ...]:
    """The items of an array; a property that is there as a plain text is one."""
    plain = [found for node in nodes if (found := node.get(name)) is not None]
    for element in all_of(nodes, name):
        held = array(element)
        plain += [text(element)] if held is None else map(text, members(held))
    return tuple(plain)


def text(element: etree._Element) -> str:
    """The text of a value; of one that has qualifiers, that of its rdf:value."""
    node = next(element.iterchildren(DESCRIPTION), element)
    inner = node.find(VALUE)
    if inner is not None:
        return inner.text or ""
    if (told := node.get(VALUE)) is not None:
        return told
    return (element.text or "") + "".join(x.tail or "" for x in element if not isinstance(x.tag, str))


def set_text(element: etree._Element, words: str) -> None:
    """Gives a value another text; its qualifiers stay."""
    node = next(element.iterchildren(DESCRIPTION), element)
    inner = node.find(VALUE)
    if inner is None and node.get(VALUE) is not None:
        node.set(VALUE, words)
        return
    target = element if inner is None else inner
    target.text = words
    for child in target:
        child.tail = None


def default_item(element: etree._Element) -> etree._Element | None:
    """The item of a choice of languages that is the default."""
    held = array(element)
    found = [] if held is None else members(held)
    return next((item for item in found if item.get(LANG) == DEFAULT), None)


def own_values(nodes: Nodes) -> dict[str, Value]:
    """Our own properties by their names, in whatever form another program wrote them since."""
    found: dict[str, Value] = {}
    for node in nodes:
        found |= {_local(name): node.get(name, "") for name in _own_attributes(node)}
        for child in _own_children(node):
            held = array(child)
            inner = None if held is None else tuple(map(text, members(held)))
            found[_local(child.tag)] = text(child) if inner is None else inner
    return found


def drop_own(nodes: Nodes) -> None:
    """Takes out every property of our own."""
    for node in nodes:
        for name in _own_attributes(node):
            del node.attrib[name]
        for child in list(_own_children(node)):
            remove(child)


def own_node(nodes: Nodes) -> etree._Element | None:
    """The description that holds our own properties."""
    return next((node for node in nodes if any(True for _ in _own_children(node))), None)


def made(name: str, words: str, within: etree._Element) -> etree._Element:
    """A new last child of an element."""
    space, known = name[1:].partition("}")[0], within.nsmap.values()
    nsmap = {prefix: uri for prefix, uri in PREFIXES.items() if uri == space and uri not in known}
    element = etree.SubElement(within, name, nsmap=nsmap)
    element.text = words or None
    return element


def made_node(within: etree._Element, subject: str) -> etree._Element:
    """A new description, on a line of its own, that names our prefixes."""
    known = within.nsmap.values()
    nsmap = {prefix: uri for prefix, uri in PREFIXES.items() if uri not in known}
    node = etree.SubElement(within, DESCRIPTION, {ABOUT: subject}, nsmap=nsmap)
    lay_out(node)
    before = node.getprevious()
    lead = (within.text if before is None else before.tail) or ""
    node.text = lead if "\n" in lead and not lead.strip() else None
    return node


def made_array(name: str, kind: str, words: Sequence[str], within: etree._Element) -> etree._Element:
    """A new property with a bag, a sequence or a choice of alternatives."""
    element = made(name, "", within)
    held = made(kind, "", element)
    for one in words:
        made(ITEM, one, held)
    return element


def lay_out(element: etree._Element) -> None:
    """Puts a new last child on a line of its own, where its neighbours do; `remove` undoes it."""
    parent, before = element.getparent(), element.getprevious()
    assert parent is not None
    end = (parent.text if before is None else before.tail) or ""
    if "\n" not in end or end.strip():
        return
    first = (parent.text or "") if before is not None else ""
    lead = first if "\n" in first and not first.strip() else end + _STEP
    if before is None:
        parent.text = lead
    else:
        before.tail = lead
    element.tail = end
    _lay_out_within(element, lead)


def _lay_out_within(element: etree._Element, lead: str) -> None:
    for child in element:
        _lay_out_within(child, lead + _STEP)
        child.tail = lead + _STEP
    if len(element):
        element.text, element[-1].tail = lead + _STEP, lead


def remove(element: etree._Element) -> None:
    """Takes an element out with the line it stood on; a text behind it stays."""
    parent, before = element.getparent(), element.getprevious()
    assert parent is not None  # the outermost element is never a property
    kept = element.tail or ""
    lead = (parent.text if before is None else before.tail) or ""
    if lead.strip() or "\n" not in kept:  # it had no line of its own
        kept = lead + kept
    if before is None:
        parent.text = kept
    else:
        before.tail = kept
    parent.remove(element)


def _own_attributes(node: etree._Element) -> list[str]:
    return [name for name in map(str, node.keys()) if name.startswith(f"{{{OWN}}}")]


def _own_children(node: etree._Element) -> Iterator[etree._Element]:
    return (child for child in node if isinstance(child.tag, str) and child.tag.startswith(f"{{{OWN}}}"))


def _local(name: str) -> str:
    return name.partition("}")[2]
