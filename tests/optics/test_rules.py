"""The rules of thumb (common practice, no source) at their borders."""

import pytest

from audit.optics.rules import rule_of_thumb

FULL, APS_C, SMALL = 43.27, 28.2, 21.6


@pytest.mark.parametrize(
    ("focal_mm", "diagonal_mm", "ring", "second", "verdict"),
    [
        (24, FULL, "standard", False, "fine"),
        (23, FULL, "standard", False, "not fine"),
        (14, FULL, "recessed", False, "fine"),
        (16, APS_C, "standard", False, "fine"),
        (15, APS_C, "standard", False, "not fine"),
        (12, SMALL, "standard", False, "fine"),
        (35, FULL, "recessed", True, "fine"),
        (34, FULL, "recessed", True, "doubtful"),
        (28, FULL, "standard", True, "doubtful"),
        (27, FULL, "standard", True, "not fine"),
        (24, APS_C, "standard", True, "fine"),
        (21, APS_C, "standard", True, "doubtful"),
        (20, APS_C, "standard", True, "not fine"),
        (50, FULL, "", False, "silent"),
    ],
)
def test_verdicts(focal_mm, diagonal_mm, ring, second, verdict):
    assert rule_of_thumb(focal_mm, diagonal_mm, ring, second)[0] == verdict


def test_recessed_rings_are_made_for_49_to_82_mm():
    assert "none is made for 95 mm" in rule_of_thumb(16, FULL, "standard", False, 95)[1]
    assert "none is made" not in rule_of_thumb(16, FULL, "standard", False, 82)[1]
