"""Several questions in one: rigs side by side, and every sensor size among the kit's bodies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from audit.corners.question import Question
from audit.errors import AuditError
from audit.kit.kit import Body, Kit
from audit.toml.fault import suggestion

LONGEST_NAME = 16
"""Of a rig; it heads a column."""

KEYS = {
    "ring": "ring",
    "behind": "behind",
    "holder": "holder",
    "slots": "slots",
    "front": "front",
    "second": "second",
    "turn": "turn_deg",
    "second-turn": "second_turn_deg",
    "hood": "hood",
}
"""Words of --rig, which are the command's options without their dashes, and what they fill in."""

ALSO = {"second_holder": "second", "turn_deg": "turn", "second_turn_deg": "second-turn"}
"""The words of filters.toml mean the same."""

EXAMPLE = "low=ring=r77low,holder=main,front"


@dataclass(frozen=True)
class Part:
    """One question of several: the rig's name ("" where none is named) and the bodies with that sensor."""

    rig: str
    bodies: tuple[str, ...]
    question: Question


@dataclass(frozen=True)
class Sensors:
    """Each sensor size to answer for, with its bodies; None leaves the size to the question.

    `left_out` are bodies of which the kit gives no size.
    """

    sizes: tuple[tuple[tuple[float, float] | None, tuple[str, ...]], ...]
    left_out: tuple[str, ...] = ()


def sensors(question: Question, kit: Kit, bodies: Sequence[str], *, by_numbers: bool = False) -> Sensors:
    """The sensors of the bodies named, else of all in the kit; raises AuditError.

    A lens given `by_numbers` need not be of the kit, so that only named bodies count.
    """
    if bodies and question.sensor_mm is not None:
        raise AuditError("--body: --sensor gives the size already; leave one of the two out")
    if not bodies and (question.sensor_mm is not None or by_numbers):
        return Sensors(((question.sensor_mm, ()),))
    wanted = [_body(name, kit) for name in bodies] or kit.bodies
    sizes: dict[tuple[float, float], list[str]] = {}
    for body in wanted:
        if body.sensor_mm is not None and body.name not in sizes.setdefault(body.sensor_mm, []):
            sizes[body.sensor_mm].append(body.name)
    lacking = tuple(body.name for body in wanted if body.sensor_mm is None)
    if bodies and lacking:
        raise AuditError(
            f'--body: the kit gives body "{lacking[0]}" no sensor_mm; add it there, or give --sensor instead'
        )
    if not sizes:
        return Sensors(((None, ()),))
    return Sensors(tuple((size, tuple(names)) for size, names in sizes.items()), lacking)


def _body(name: str, kit: Kit) -> Body:
    body = kit.body(name)
    if body is None:
        names = [body.name for body in kit.bodies]
        known = suggestion(name, names, "it has {known_key}") if names else "there is none in it"
        raise AuditError(f'--body: "{name}" is not in the kit; {known}')
    return body


def parts(question: Question, found: Sensors, rigs: Sequence[str]) -> tuple[Part, ...]:
    """One question for each sensor and each rig, sensors first; raises AuditError."""
    asked = named_rigs(question, rigs) if rigs else {"": question}
    return tuple(
        Part(name, bodies, replace(one, sensor_mm=size) if size is not None else one)
        for size, bodies in found.sizes
        for name, one in asked.items()
    )


def named_rigs(question: Question, rigs: Sequence[str]) -> dict[str, Question]:
    """By name; what a rig leaves open is as in `question`. Raises AuditError."""
    found: dict[str, Question] = {}
    for number, words in enumerate(rigs, start=1):
        head, sign, rest = words.partition("=")
        head = head.strip()
        named = bool(sign) and "," not in head and ALSO.get(head, head) not in KEYS
        name, rest = (head, rest) if named else (f"rig {number}", words)
        if not name or len(name) > LONGEST_NAME:
            raise AuditError(
                f'--rig: "{name}" is no name of 1 to {LONGEST_NAME} characters; write it like {EXAMPLE}'
            )
        if name in found:
            raise AuditError(f'--rig: "{name}" stands twice; give each rig a name of its own')
        found[name] = _filled(question, name, rest)
    return found


def _filled(question: Question, name: str, words: str) -> Question:
    values: dict[str, object] = {}
    for word in (word.strip() for word in words.split(",")):
        key, sign, value = (part.strip() for part in word.partition("="))
        key = ALSO.get(key, key)
        if key not in KEYS:
            known = suggestion(key, list(KEYS), "it takes {known_key}")
            raise AuditError(f'--rig {name}: "{word}" is not understood; {known}. Write it like {EXAMPLE}')
        if KEYS[key] in values:
            raise AuditError(f"--rig {name}: {key} stands twice; keep one of them")
        if bool(value) == (key == "front") or bool(sign) != bool(value):
            wanted = "front alone, without a value" if key == "front" else f"{key}=... with a value"
            raise AuditError(f"--rig {name}: write {wanted}, like {EXAMPLE}")
        values[KEYS[key]] = _value(name, key, value)
    return replace(question, **values)  # type: ignore[arg-type]


def _value(name: str, key: str, value: str) -> object:
    if key == "front":
        return True
    if key == "behind":
        return tuple(part.strip() for part in value.split("+"))
    if key == "slots":
        if value not in map(str, range(11)):
            raise AuditError(
                f"--rig {name}: slots={value} should be a whole number from 0 to 10, like slots=2"
            )
        return int(value)
    if key in ("turn", "second-turn"):
        return _degrees(name, key, value)
    return value


def _degrees(name: str, key: str, value: str) -> float:
    try:
        turned = float(value)
    except ValueError:
        turned = float("nan")
    if not -360 <= turned <= 360:
        raise AuditError(f"--rig {name}: {key}={value} should be degrees from -360 to 360, like {key}=90")
    return turned
