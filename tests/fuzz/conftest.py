"""What the fuzzer's tests share: the way to its modules, which lie beside them."""

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "scan")]
