from __future__ import annotations

import pytest

from audit.kit.strangers import nearest


@pytest.mark.parametrize(
    ("name", "known", "found"),
    [
        ("Brattholm Tarn", ["Tarn", "Beck"], "Tarn"),
        ("Brattholm Tarn", ["Bratholm Tarn"], "Bratholm Tarn"),
        ("Brattholm Tarn", ["brattholm  TARN"], "brattholm  TARN"),
        ("Brattholm Tarn", ["Brattholm Tran"], "Brattholm Tran"),
        ("Brattholm Beck", ["Brattholm Tarn"], None),  # of one maker, and left at home
        ("Sund 16-35 mm f4", ["Sund 24-70 mm f2.8", "Sund16-35/4"], "Sund16-35/4"),
        ("Sund 24-70 mm f2.8", ["Sund 16-35 mm f4"], None),
        ("Sund 16-35 mm f4", [], None),
    ],
)
def test_the_nearest_name(name: str, known: list[str], found: str | None) -> None:
    assert nearest(name, known) == found
