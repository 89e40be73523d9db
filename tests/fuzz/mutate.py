"""Damages a sound file as a number says: the same number gives the same file on every machine."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache

from places import POINTERS, Place, places
from starts import starts

TEXTS = (
    *(b"\x1b[31m\x1b]0;x\x07", "\u202egnp.\u2066".encode(), b"\xff\xfe\x80", b"=cmd|'x'!A1", b"\0\0\0\0"),
    *(b"<script>alert(1)</script>", b"9999:99:99 99:99:99", b"2026:02:30 10:00:00", b"../../../etc/passwd"),
    *(b"\xed\xa0\x80", b"nan", b"A" * 4000, b"%s%n{0}{x}", b"-inf"),
)
DAMAGES = 7
"""Of one file at most; half of the files have one."""


@dataclass
class Case:
    """A damaged file. `touched` are the EXIF tags it was all about, None where structure was changed."""

    number: int
    name: str
    data: bytearray
    touched: set[int] | None = field(default_factory=set)
    done: list[str] = field(default_factory=list)

    def touch(self, place: Place | None, tags: set[int] | None = None) -> None:
        if self.touched is None or place is None or place.tag is None:
            self.touched = None
        else:
            self.touched |= {place.tag} | (tags or set())
            if self.touched & POINTERS:
                self.touched = None


def case(number: int) -> Case:
    """The case of that number."""
    chance = random.Random(number)
    names = sorted(starts())
    name = names[number % len(names)]
    made = Case(number, name, bytearray(starts()[name]))
    known = sound_places(name)
    for _ in range(1 if chance.random() < 0.5 else chance.randint(2, DAMAGES)):
        if made.touched is None:
            known = places(bytes(made.data))
        if not known or not made.data:
            break
        _pick(chance)(made, chance.choice(known), known, chance)
    return made


@cache
def sound_places(name: str) -> list[Place]:
    """Those of a start; they hold as long as no structure is changed."""
    return places(starts()[name])


Damage = Callable[[Case, Place, list[Place], random.Random], None]


def _pick(chance: random.Random) -> Damage:
    return chance.choices([damage for damage, _ in _DAMAGES], [weight for _, weight in _DAMAGES])[0]


def _number(made: Case, at: Place, known: list[Place], chance: random.Random) -> None:
    """A number gets a value that breaks programs: none, all, one off, the file's size, another's place."""
    most, size = (1 << 8 * min(at.size, 4)) - 1, len(made.data)
    old = int.from_bytes(made.data[at.offset : at.offset + min(at.size, 4)], at.order)  # type: ignore[arg-type]
    values = [0, 1, 2, 7, most, most >> 1, (most >> 1) + 1, old + 1, old - 1, old * 2, at.offset, size]
    values += [size - 1, size - at.offset, chance.choice(known).offset, chance.randint(0, most), 12, 0x8769]
    _put(made, at, chance.choice(values) & most)


def _put(made: Case, at: Place, value: int) -> None:
    width = min(at.size, 4)
    made.data[at.offset : at.offset + width] = value.to_bytes(width, at.order)  # type: ignore[arg-type]
    made.touch(at, {value} if at.what == "tag" else None)
    made.done.append(f"{at.what} at {at.offset} is {value}")


def _flip(made: Case, at: Place, known: list[Place], chance: random.Random) -> None:
    """One bit."""
    place = min(at.offset + chance.randrange(max(at.size, 1)), len(made.data) - 1)
    made.data[place] ^= 1 << chance.randrange(8)
    new = int.from_bytes(made.data[at.offset : at.offset + 2], at.order)  # type: ignore[arg-type]
    made.touch(at, {new} if at.what == "tag" else None)
    made.done.append(f"bit at {place}, of {at.what}")


def _words(made: Case, at: Place, known: list[Place], chance: random.Random) -> None:
    """A text gets other bytes, of its own length; where the place is no text, another that is."""
    texts = [place for place in known if place.what == "text"]
    at = chance.choice(texts) if texts else at
    words = chance.choice(TEXTS)
    made.data[at.offset : at.offset + at.size] = (words * (at.size // len(words) + 1))[: at.size]
    made.touch(at)
    made.done.append(f"words at {at.offset}: {words[:20]!r}")


def _cut(made: Case, at: Place, known: list[Place], chance: random.Random) -> None:
    """The file ends at a place, or anywhere."""
    end = (
        at.offset + chance.randint(0, max(at.size, 1))
        if chance.random() < 0.7
        else chance.randint(0, len(made.data))
    )
    del made.data[end:]
    made.touch(None)
    made.done.append(f"cut at {end}")


def _insert(made: Case, at: Place, known: list[Place], chance: random.Random) -> None:
    """Some bytes come in between."""
    fill = chance.choice([bytes(1), b"\xff", b"\xff\xd8\xff", chance.randbytes(4)])
    made.data[at.offset : at.offset] = fill * chance.choice([1, 2, 12, 1000])
    made.touch(None)
    made.done.append(f"{fill!r} put in at {at.offset}")


def _remove(made: Case, at: Place, known: list[Place], chance: random.Random) -> None:
    """Some bytes go."""
    length = chance.choice([1, 2, 4, 12, 100, 5000])
    del made.data[at.offset : at.offset + length]
    made.touch(None)
    made.done.append(f"{length} bytes gone at {at.offset}")


def _overwrite(made: Case, at: Place, known: list[Place], chance: random.Random) -> None:
    """A stretch is lost to zeros, ones, noise or another part of the file, as where a card fails."""
    length, other = chance.choice([12, 64, 512, 4096]), chance.choice(known).offset
    fill = chance.choice(
        [bytes(length), b"\xff" * length, chance.randbytes(length), made.data[other : other + length]]
    )
    made.data[at.offset : at.offset + len(fill)] = fill
    made.touch(None)
    made.done.append(f"{length} bytes lost at {at.offset}")


def _entry(made: Case, at: Place, known: list[Place], chance: random.Random) -> None:
    """One entry of a directory is written over another."""
    entries = [
        place.offset for place in known if place.what in ("tag", "box size", "chunk length", "record kind")
    ]
    if len(entries) > 1:
        one, other = chance.sample(entries, 2)
        made.data[one : one + 12] = made.data[other : other + 12]
        made.touch(None)
        made.done.append(f"entry at {one} is that at {other}")


def _other_end(made: Case, at: Place, known: list[Place], chance: random.Random) -> None:
    """The rest of the file is that of another format."""
    other = starts()[chance.choice(sorted(starts()))]
    made.data[at.offset :] = other[chance.randint(0, len(other)) :]
    made.touch(None)
    made.done.append(f"another file from {at.offset} on")


_DAMAGES: list[tuple[Damage, int]] = [
    *((_number, 50), (_flip, 12), (_words, 10), (_cut, 5), (_insert, 5)),
    *((_remove, 5), (_overwrite, 5), (_entry, 5), (_other_end, 3)),
]
