"""Plain data as the text of a file; apart from `shown`, which workers load without json."""

from __future__ import annotations

import json
from typing import Any

from audit.message.shown import writable_json


def json_text(record: Any) -> str:
    """JSON with letters as they are, and as escapes what UTF-8 cannot hold.

    Raises ValueError for a number that is none.
    """
    return writable_json(json.dumps(record, ensure_ascii=False, indent=1, allow_nan=False)) + "\n"
