"""A first kit.toml from what pictures say: found gear as tables, all else as words and examples.

Lines behind two marks are words; one mark taken off makes a line a key, and all of it is a kit either way.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from audit.declare.rigs import (
    BORE_BELOW_THREAD,
    CLEAR_WIDTH,
    FRONT_RING_MM,
    FRONT_RING_THICKNESS,
    HOLDER_BASE,
    HOLDER_BORE,
    PLATE_THICKNESS,
    RING_HEIGHT,
    SLOT_PITCH,
    STEP_RING_HEIGHT,
)
from audit.kit import blanks
from audit.kit.found import FoundBody, FoundGear, FoundLens
from audit.kit.pupil import PUPIL_BAND_MM
from audit.kit.strength import POLARISER_STOPS
from audit.message.shown import shown_line
from audit.toml.quote import quoted

COMMENT_AT, MOST_WIDE, MOST_SHOWN, MOST_DATA, MOST_MODELS = 33, 106, 60, 120, 4
WORDS, KEY = "## ", "# "
THREAD, STEPPED, NO_CONTACT_THREAD, NO_CONTACT_FOCAL = 77, 58, 58, 24
"""Threads and focal length of the examples: sizes that are sold, common practice, no source."""
WHERE_THREAD = f"stands {blanks.WHERE_THREAD}"


def kit_text(gear: FoundGear, dump_name: str, pictures: int) -> str:
    """The whole file; the same pictures give the same text."""
    parts = [_head(dump_name, pictures), *bodies_text(gear.bodies), _lens_words()]
    parts += [*lenses_text(gear.lenses), *examples()]
    if not gear.bodies:
        parts.insert(1, _no_body())
    return "\n\n".join(part for part in parts if part) + "\n"


def bodies_text(bodies: Sequence[FoundBody]) -> list[str]:
    """A table for each body."""
    return [_table(_body(one)) for one in bodies]


def lenses_text(lenses: Sequence[FoundLens]) -> list[str]:
    """A table for each lens; a commented one where its focal length is not known, which every lens needs."""
    return [_table(_bare(one) if one.focal_mm is None else _lens(one)) for one in lenses]


def is_noted(lens: FoundLens, text: str) -> bool:
    """Whether the comment that stands for a lens without a focal length is in a kit's text already."""
    lines = {line.lstrip("# ").rstrip() for line in text.splitlines()}
    mark = "no_contacts = true" if lens.bare else f"exif = [{quoted(lens.name)}]"
    return lens.focal_mm is None and mark in lines


def examples() -> list[str]:
    """Tables of all else in the bag, as comments, with what is assumed where a line is left out."""
    head = _words(
        "What is before the lens: examples with usual dimensions. Take the mark off each line that you have "
        "and write in what yours measures; a line that is left out is assumed as the words above it say, and "
        "every result that used it says so."
    )
    return [head, *(_table(one) for one in (_ring(), _step_ring(), _holder(), *_filters()))]


def _head(dump_name: str, pictures: int) -> str:
    return _words(
        f"The kit, begun by `cornerstop kit new` from what {pictures} pictures in {shown(dump_name)} say of "
        "themselves. Millimetres throughout. Lines behind two marks are words. A line behind one mark is "
        "yours to fill in: take the mark off and write in your own value. `cornerstop kit check` says what "
        "is missing."
    )


def _no_body() -> str:
    keys = [KEY + "[[body]]", KEY + 'name = "A"', _key('model = "..."', "as EXIF writes it", KEY)]
    return _table([_words("No picture names its camera."), *keys])


def _body(body: FoundBody) -> Iterator[str]:
    yield _words(_frames(body.frames))
    yield "[[body]]"
    yield _key(f"name = {quoted(body.name)}", "the label in the report; choose your own")
    yield f"model = {quoted(body.model)}"
    if body.serial is not None:
        yield _key(f"serial = {quoted(body.serial)}", "tells it from the other body of this model")
    if body.sensor_mm is not None:
        yield _key(
            f"sensor_mm = {_sides(body.sensor_mm)}", "by open camera data, to about 1 %; the manual is surer"
        )
    elif body.picture_mm is not None:
        yield _key(
            f"sensor_mm = {_sides(body.picture_mm)}",
            "width, height as its pictures say; look into the manual",
            KEY,
        )
    else:
        yield _key("sensor_mm = [36.0, 24.0]", "width, height: in the manual; no picture tells", KEY)


def _lens_words() -> str:
    low, high = PUPIL_BAND_MM
    return _words(
        f"Lenses. How deep the entrance pupil lies behind the thread is assumed to be {low:g} to {high:g} "
        "mm; `cornerstop calibrate` measures it."
    )


def _lens(lens: FoundLens) -> Iterator[str]:
    yield _words(_lens_frames(lens))
    if lens.data:
        yield _words(
            f"Distortion comes from open data ({shown(lens.data, MOST_DATA)}): leave distortion_percent out."
        )
    yield "[[lens]]"
    yield f"id = {quoted(lens.id)}"
    if lens.name:
        yield f"exif = [{quoted(lens.name)}]"
    else:
        yield _key("exif = []", "the pictures give no name that could stand here")
    yield _key(f"thread_mm = {THREAD}", WHERE_THREAD, KEY)
    low, high = lens.focal_mm or (0.0, 0.0)
    focal = _number(low) if low == high else _pair(low, high)
    yield (
        f"focal_mm = {focal}"
        if lens.own
        else _key(f"focal_mm = {focal}", "as used; write the lens' own range")
    )


def _bare(lens: FoundLens) -> Iterator[str]:
    """A lens whose focal length nothing tells."""
    told = "name no lens, no focal length and no f-number: a lens without contacts"
    yield _words(
        f"{_lens_frames(lens)} {told}." if lens.bare else f"{_lens_frames(lens)}; no focal length is told"
    )
    yield KEY + "[[lens]]"
    yield f"{KEY}id = {quoted(lens.id)}"
    yield f"{KEY}exif = [{quoted(lens.name)}]" if lens.name else f"{KEY}exif = []"
    yield _key(f"thread_mm = {NO_CONTACT_THREAD}", WHERE_THREAD, KEY)
    yield _key(f"focal_mm = {NO_CONTACT_FOCAL}", "engraved on the lens; of a zoom [shortest, longest]", KEY)
    if lens.bare:
        yield KEY + "no_contacts = true"
        yield _key("f_number = 8", "the aperture usually set; may be left out", KEY)


def _ring() -> Iterator[str]:
    standard, recessed = RING_HEIGHT["standard"], RING_HEIGHT["recessed"]
    yield _words(
        f"The ring between lens and holder. Left out: bore {BORE_BELOW_THREAD:g} less than the thread, "
        f"height {standard:g}, recessed {recessed:g}."
    )
    yield KEY + "[[ring]]"
    yield f'{KEY}id = "r{THREAD}"'
    yield _key(f"thread_mm = {THREAD}", "the lens thread that it screws into", KEY)
    yield _key('kind = "standard"', 'or "recessed": sunk into the lens, for wide ones', KEY)
    yield _key(f"bore_mm = {_number(THREAD - BORE_BELOW_THREAD)}", "its clear opening", KEY)
    yield _key(f"height_mm = {standard:g}", "its front edge before the front edge of the thread", KEY)


def _step_ring() -> Iterator[str]:
    yield _words(
        f"A step ring, for a lens with a smaller thread. Left out: bore {BORE_BELOW_THREAD:g} less than the "
        f"smaller thread, height {STEP_RING_HEIGHT:g}."
    )
    yield KEY + "[[step_ring]]"
    yield f'{KEY}id = "s{STEPPED}-{THREAD}"'
    yield _key(f"from_mm = {STEPPED}", "the thread of the lens", KEY)
    yield _key(f"to_mm = {THREAD}", "the thread that it offers", KEY)
    yield _key(f"bore_mm = {_number(STEPPED - BORE_BELOW_THREAD)}", "its clear opening", KEY)
    yield f"{KEY}height_mm = {STEP_RING_HEIGHT:g}"


def _holder() -> Iterator[str]:
    yield _words(
        f"The holder. Left out: bore {HOLDER_BORE:g}, base {HOLDER_BASE:g}, {CLEAR_WIDTH:g} clear between "
        f"the rails, slot pitch {SLOT_PITCH:g}, front ring {FRONT_RING_THICKNESS:g} thick; no front ring "
        "without front_ring_mm."
    )
    yield KEY + "[[holder]]"
    yield KEY + 'id = "main"'
    yield _key("slots = 2", "how many plates it takes", KEY)
    yield _key(f"bore_mm = {HOLDER_BORE:g}", "its clear opening at the ring", KEY)
    yield _key(f"base_mm = {HOLDER_BASE:g}", "from the ring's seat to the back of the first slot", KEY)
    yield _key(f"clear_width_mm = {CLEAR_WIDTH:g}", "between the rails", KEY)
    yield _key(f"slot_pitch_mm = {SLOT_PITCH:g}", "from one slot to the next", KEY)
    yield _key(f"front_ring_mm = {FRONT_RING_MM:g}", "clear diameter of the ring for a round polariser", KEY)
    yield _key(f"front_ring_thickness_mm = {FRONT_RING_THICKNESS:g}", "how far that ring stands out", KEY)


def _filters() -> Iterator[Iterator[str]]:
    strength = "or density = 1.8, or factor = 64: as its rim says"
    thick = _key(f"thickness_mm = {PLATE_THICKNESS:g}", "of its glass", KEY)
    words = (
        f"A neutral. It needs one strength: stops, density or factor. Left out: {PLATE_THICKNESS:g} thick."
    )
    yield _filter(words, "n6", "neutral", _key("stops = 6", strength, KEY), thick)
    words = 'A grad: "grad-soft" or "grad-hard", with the strength of its dense half.'
    yield _filter(
        words, "g2soft", "grad-soft", _key("stops = 2", "or density = 0.6, or factor = 4", KEY), thick
    )
    least, most = POLARISER_STOPS
    words = f"A polariser. Without a strength {least:g} to {most:g} stops by its turn are assumed."
    yield _filter(words, "pol", "polariser", _key("round = true", "for the holder's front ring", KEY))


def _filter(words: str, id: str, kind: str, *keys: str) -> Iterator[str]:
    yield _words(words)
    yield KEY + "[[filter]]"
    yield f'{KEY}id = "{id}"'
    yield f'{KEY}kind = "{kind}"'
    yield from keys


def _lens_frames(lens: FoundLens) -> str:
    """How often, on which bodies and how wide a lens was used."""
    on = [shown(model) for model in lens.models[:MOST_MODELS]]
    on += ["others"] if len(lens.models) > MOST_MODELS else []
    words = f"{_frames(lens.frames)} on {', '.join(on)}"
    if lens.used_mm is None:
        return words
    low, high = (_number(mm) for mm in lens.used_mm)
    used = f"used at {low} mm" if low == high else f"used from {low} (its widest) to {high} mm"
    return f"{words}; {used}"


def _frames(count: int) -> str:
    return f"{count} frame{'' if count == 1 else 's'}"


def shown(text: str, most: int = MOST_SHOWN) -> str:
    """Other people's words in a comment: one short line that acts on nothing."""
    line = shown_line(" ".join(text[: 2 * most].split()))
    return line if len(line) <= most else line[: most - 3] + "..."


def _words(text: str) -> str:
    """A comment over as many lines as it takes."""
    lines, line = [], ""
    for word in text.split(" "):
        if line and len(line) + len(word) >= MOST_WIDE:
            lines.append(line)
            line = ""
        line = f"{line} {word}" if line else word
    return "\n".join(WORDS + one for one in [*lines, line])


def _key(key: str, words: str, mark: str = "") -> str:
    return f"{mark + key:<{COMMENT_AT - 1}} # {words}"


def _table(lines: Iterator[str] | Sequence[str]) -> str:
    return "\n".join(lines)


def _pair(low: float, high: float) -> str:
    return f"[{_number(low)}, {_number(high)}]"


def _sides(size_mm: tuple[float, float]) -> str:
    return f"[{size_mm[0]:.1f}, {size_mm[1]:.1f}]"


def _number(value: float) -> str:
    return f"{value:.6g}" if value < 1e6 else f"{value:.0f}"
