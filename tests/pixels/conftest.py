"""What tests of measurements share: simulated cameras and the simulators of benchmarks/."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))  # for `foreign`, the cameras that are not ours
