import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "scan"))  # for `camera_files`, the writer of test files
