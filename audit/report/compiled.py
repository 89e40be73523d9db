"""How templates are compiled here: for one language, and so that a value is written by one remembered call.

A report writes the same few thousand texts hundreds of thousands of times, so each is escaped once; and a
phrase of the template itself is looked up in the catalogue when it is compiled, not each time it is written.
"""

from __future__ import annotations

import builtins
import unicodedata
from collections.abc import Callable
from functools import lru_cache
from typing import Any, cast

from jinja2 import BytecodeCache, Environment, nodes
from jinja2.bccache import Bucket
from jinja2.compiler import CodeGenerator, Frame
from jinja2.visitor import NodeTransformer
from markupsafe import Markup, escape

from audit.message.text import Text

HIDDEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
"""Unicode categories that are shown as an escape: control, direction marks, lone surrogates, unassigned."""
PHRASE = ("_", "gettext")
"""Names by which a template asks for a phrase in the language."""
KEPT_TEXTS = 50_000
"""Texts that stay escaped in memory; a page holds a few thousand."""


def printable(text: str) -> str:
    """The text with every character that cannot be seen written as an escape (\\u202e, \\xff)."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(_escape(c) if unicodedata.category(c) in HIDDEN else c for c in text)


def _escape(character: str) -> str:
    code = ord(character)
    if 0xDC80 <= code <= 0xDCFF:  # a byte kept by surrogateescape
        return f"\\x{code - 0xDC00:02x}"
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


@lru_cache(KEPT_TEXTS)
def escaped(text: str) -> Markup:
    """A text as a page shows it; what is markup already must not come here."""
    return escape(printable(text))


def written(value: Any) -> str:
    """Any value as a page shows it."""
    kind = type(value)
    if kind is str or kind is Text:
        return escaped(value)
    if kind is int:
        return str(value)
    if isinstance(value, Markup):
        return value
    return escaped(value) if isinstance(value, str) else escape(value)


class TemplateEnvironment(Environment):
    """An environment whose templates are written through `written`, with its phrases put in beforehand."""

    written = staticmethod(written)
    getattr = staticmethod(builtins.getattr)  # type: ignore[assignment]  # records have attributes, no keys

    def _generate(
        self, source: nodes.Template, name: str | None, filename: str | None, defer_init: bool = False
    ) -> str:
        told = _InLanguage(self).visit(source)
        return super()._generate(told, name, filename, defer_init)


class _Writer(CodeGenerator):
    """Has values written by one call, where Jinja would finalize and then escape each."""

    def _output_child_pre(self, node: nodes.Expr, frame: Frame, finalize: Any) -> None:
        self.write("environment.written(")

    def _output_child_post(self, node: nodes.Expr, frame: Frame, finalize: Any) -> None:
        self.write(")")


TemplateEnvironment.code_generator_class = _Writer


class _InLanguage(NodeTransformer):
    """Puts the phrase of the language where a template asks for it by its English words."""

    def __init__(self, environment: Environment) -> None:
        self._tell = cast(Callable[[str], str], environment.globals["told"])

    def visit_Call(self, node: nodes.Call) -> nodes.Node:
        """The phrase, with its values filled in where it has any: what newstyle gettext does when called."""
        self.generic_visit(node)
        if not (isinstance(node.node, nodes.Name) and node.node.name in PHRASE):
            return node
        (words,) = node.args
        phrase = nodes.TemplateData(self._tell(words.as_const()), lineno=node.lineno)
        values = [nodes.Pair(nodes.Const(one.key), one.value) for one in node.kwargs]
        return nodes.Mod(phrase, nodes.Dict(values), lineno=node.lineno)


class Compiled(BytecodeCache):
    """Templates compiled once in a process and language: each report has an environment of its own.

    What a compiled template may hold of its environment is the language alone. None is kept on the disk: what
    a run executes is never read from a folder that others may write to.
    """

    def __init__(self) -> None:
        self._codes: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Gives a template its code, where it was compiled already."""
        if bucket.key in self._codes:
            bucket.bytecode_from_string(self._codes[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keeps a template's code."""
        self._codes[bucket.key] = bucket.bytecode_to_string()


compiled = lru_cache(lambda _language_code: Compiled())
