"""The report: pages (or one), and the data files beside them, as one run in a folder of reports.

`render` and `write` are loaded when first asked for: the terminal's answers live in this room too, and need
neither the templates nor the languages.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from audit.report.whole import render, write

__all__ = ["render", "write"]


def __getattr__(name: str) -> Any:
    """What `whole.py` offers, under the name of the room."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from audit.report import whole

    return getattr(whole, name)
