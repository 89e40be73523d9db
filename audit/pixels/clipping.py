"""Shares of clipped and of black pixels in each third of the upright picture."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Shares = NDArray[np.float64]
THIRDS = ("top", "middle", "bottom")
_TURNS = {3: 2, 4: 2, 5: -1, 6: -1, 7: 1, 8: 1}
"""Quarter turns anticlockwise that bring a picture of an EXIF orientation upright (EXIF 2.32, tag 0x0112).

Mirroring from side to side leaves the thirds as they are, so 2 is 1, 4 is 3, 5 is 6 and 7 is 8.
"""


def thirds(ninths: Shares, orientation: int | None) -> tuple[float, float, float]:
    """Shares in the top, middle and bottom third as one sees the picture, from the (3, 3) as stored."""
    upright = np.rot90(ninths, _TURNS.get(orientation or 1, 0))
    top, middle, bottom = (float(row.mean()) for row in upright)
    return top, middle, bottom
