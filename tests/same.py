"""Whether two audits came to the same."""

from __future__ import annotations

import pandas as pd

from audit.result import Result


def same_result(one: Result, other: Result) -> None:
    """Fails where tables, findings or what was measured differ."""
    pd.testing.assert_frame_equal(one.frames, other.frames)
    pd.testing.assert_frame_equal(one.passed_over, other.passed_over)
    assert one.findings == other.findings and one.mistakes == other.mistakes
    assert repr(one.filters) == repr(other.filters) and repr(one.curves) == repr(other.curves)
    assert one.evidence.keys() == other.evidence.keys()
