"""What is known of a frame merged into a packet; all that is not ours stays as it is.

What goes into standard properties is remembered in our own `Placed`. So a later merge replaces or takes back
what this program put there and nobody touched, and nothing else: what the photographer wrote, changed or took
out since stays written, changed or out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from lxml import etree

from audit.xmp import tree
from audit.xmp.known import OWN_PROPERTIES, PLACED, Known
from audit.xmp.names import (
    ABOUT,
    ALT,
    BAG,
    DATE_CREATED,
    F_NUMBER,
    ITEM,
    LANG,
    SEQ,
    SUBJECT,
    TEXT,
    own,
    short,
)
from audit.xmp.packet import Packet, about, new, read, the_list
from audit.xmp.tree import Value

SINGLE = (TEXT, DATE_CREATED, F_NUMBER)


@dataclass(frozen=True)
class Merged:
    """A packet before and after, as bytes and as text with LF; None before where there was none.

    The texts show what changes in it; how a tag was laid out is not kept, what it says is. `ours` says
    whether the packet held something of ours already.
    """

    before: bytes | None
    after: bytes
    before_text: str
    after_text: str
    ours: bool

    @property
    def changed(self) -> bool:
        """Whether there is anything to write."""
        return self.before != self.after


def merge(data: bytes | None, known: Known) -> Merged:
    """The packet with what is known; byte for byte as it was where that is in it already.

    Raises NotXmpError for bytes that are no packet, or none that may be read.
    """
    packet = new() if data is None else read(data)
    before = "" if data is None else packet.text
    had = tree.own_values(packet.nodes)
    earlier = placed(had)
    edit = _Edit(packet, tree.own_node(packet.nodes))
    marks = [*_keywords(edit, earlier, known), *_singles(edit, earlier, known)]
    wanted: dict[str, Value] = dict(known.own)
    if marks:
        wanted[PLACED] = tuple(sorted(marks))
    if _sorted(had) != wanted:
        _put_own(edit, wanted)
    if data is not None and not edit.touched:
        return Merged(data, data, before, before, bool(had))
    return Merged(data, packet.data, before, packet.text, bool(had))


class _Edit:
    """The tree while it is changed: `nodes` describe the picture, `home` is where new properties go."""

    def __init__(self, packet: Packet, home: etree._Element | None) -> None:
        self.packet, self.touched = packet, False
        self.nodes = packet.nodes
        self._home = home

    def home(self) -> etree._Element:
        """Our own description, made as the last one where there is none."""
        if self._home is None:
            subject = about(self.nodes[0]) if self.nodes else ""
            self._home = tree.made_node(the_list(self.packet.root), subject)
            self.nodes = self.packet.nodes
        self.touched = True
        return self._home

    def add(self, name: str, kind: str, words: tuple[str, ...]) -> etree._Element:
        """A new property in our own description."""
        home = self.home()
        element = tree.made_array(name, kind, words, home) if kind else tree.made(name, words[0], home)
        tree.lay_out(element)
        return element

    def drop(self, element: etree._Element) -> None:
        """Takes an element out, and in our own description what it leaves empty."""
        self.touched = True
        while True:
            parent = element.getparent()
            tree.remove(element)
            if parent is None or len(parent) or not self.at_home(parent):
                return
            element = parent

    def at_home(self, element: etree._Element) -> bool:
        """Whether an element lies in our own description."""
        return any(above is self._home for above in element.iterancestors())

    def leave_home(self) -> None:
        """Takes our own description out, once it says nothing any more."""
        home = self._home
        if home is not None and not len(home) and set(home.keys()) <= {ABOUT, "about"}:
            tree.remove(home)


def _sorted(had: dict[str, Value]) -> dict[str, Value]:
    """With the items of the one bag in order: a bag has none, and other programs may change it."""
    return {k: tuple(sorted(v)) if k == PLACED and not isinstance(v, str) else v for k, v in had.items()}


def placed(had: dict[str, Value]) -> dict[str, set[str]]:
    """What was put into each standard property."""
    marks = had.get(PLACED, ())
    found: dict[str, set[str]] = {}
    for mark in (marks,) if isinstance(marks, str) else marks:
        name, _, words = mark.partition(" ")
        found.setdefault(name, set()).add(words)
    return found


def _keywords(edit: _Edit, earlier: dict[str, set[str]], known: Known) -> Iterator[str]:
    """Changes dc:subject and gives what of it is ours.

    A keyword that was there before us is the photographer's; one of ours that is gone is not put in again.
    """
    name = short(SUBJECT)
    ours = earlier.get(name, set())
    there = {words.strip().casefold() for words in tree.items(edit.nodes, SUBJECT)}
    missing = [k for k in known.keywords if k.casefold() not in there and k not in ours]
    for item in _keyword_items(edit):
        if tree.text(item).strip() in ours - set(known.keywords):
            edit.drop(item)
    yield from (f"{name} {k}" for k in known.keywords if k in ours)
    if not missing:
        return
    element = tree.find(edit.nodes, SUBJECT)
    held = None if element is None else tree.array(element)
    if element is None and not any(node.get(SUBJECT) is not None for node in edit.nodes):
        edit.add(SUBJECT, BAG, tuple(missing))
    elif held is not None and held.tag in (BAG, SEQ) and all(x.tag == ITEM for x in tree.members(held)):
        for keyword in missing:
            edit.touched = True
            tree.lay_out(tree.made(ITEM, keyword, held))
    else:  # no list that can be added to: where another one would go is not known
        return
    yield from (f"{name} {keyword}" for keyword in missing)


def _keyword_items(edit: _Edit) -> list[etree._Element]:
    arrays = [tree.array(element) for element in tree.all_of(edit.nodes, SUBJECT)]
    return [item for held in arrays if held is not None for item in tree.members(held)]


def _singles(edit: _Edit, earlier: dict[str, set[str]], known: Known) -> Iterator[str]:
    """Fills properties of one value that are empty, changes those that are ours, and gives what is ours."""
    for full in SINGLE:
        wanted = known.description if full == TEXT else known.simple.get(full, "")
        mark, name = next(iter(earlier.get(short(full), ())), None), short(full)
        now = _now(edit, full)
        if mark is None:
            if wanted and now == "":
                _set(edit, full, wanted)
                yield f"{name} {wanted}"
        elif now != mark:  # changed or taken out since: the photographer's
            yield f"{name} {mark}"
        elif wanted:
            if wanted != now:
                _set(edit, full, wanted)
            yield f"{name} {wanted}"
        else:
            _clear(edit, full)


def _now(edit: _Edit, name: str) -> str | None:
    """The value, "" where one may be put, None where there is something that is not to be touched."""
    element, plain = tree.find(edit.nodes, name), tree.value(edit.nodes, name)
    if plain is not None or element is None:
        return "" if plain is None else plain.strip() or None
    item = tree.default_item(element)
    return None if name != TEXT or item is None else tree.text(item).strip()


def _set(edit: _Edit, name: str, words: str) -> None:
    """Writes a value where it is, in the form that it has there, or adds the property."""
    edit.touched = True
    holder = next((node for node in edit.nodes if node.get(name) is not None), None)
    element = tree.find(edit.nodes, name)
    if holder is not None:
        holder.set(name, words)
    elif element is None and name == TEXT:
        held = tree.array(edit.add(name, ALT, (words,)))
        assert held is not None  # made just now
        held[0].set(LANG, tree.DEFAULT)
    elif element is None:
        edit.add(name, "", (words,))
    else:
        item = tree.default_item(element)
        tree.set_text(element if item is None else item, words)


def _clear(edit: _Edit, name: str) -> None:
    """Takes a value out that is ours."""
    edit.touched = True
    for node in edit.nodes:
        if node.get(name) is not None:
            del node.attrib[name]
    element = tree.find(edit.nodes, name)
    if element is not None:
        item = tree.default_item(element)
        if item is not None and not edit.at_home(item):  # an empty one stood there before
            tree.set_text(item, "")
        else:
            edit.drop(element if item is None else item)


def _put_own(edit: _Edit, wanted: dict[str, Value]) -> None:
    """Our own properties anew, in the order of their list."""
    home = edit.home() if wanted else None
    tree.drop_own(edit.nodes)
    edit.touched = True
    if home is None:
        edit.leave_home()
        return
    for name, *_ in OWN_PROPERTIES:
        words = wanted.get(name)
        if isinstance(words, str):
            edit.add(own(name), "", (words,))
        elif words is not None:
            edit.add(own(name), BAG if name == PLACED else SEQ, words)
