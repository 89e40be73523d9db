"""The samples and the other readers lie beside the tests."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
