"""Names of the arrays that formulae take and give."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Reals = np.float64 | Floats
"""A number for a number, an array for an array."""
