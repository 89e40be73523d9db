"""Damages files led by what code they reach, with atheris (libFuzzer), where that is installed.

`pip install atheris; python tests/fuzz/guided.py -max_total_time=600`. It is no dependency, for it has wheels
for a few systems only. What it finds it leaves as `crash-...` in the working folder.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "scan"), str(HERE.parents[1])]

try:
    import atheris
except ImportError:
    sys.stderr.write("atheris is not installed: guided fuzzing skipped\n")
    sys.exit(0)

with atheris.instrument_imports(include=["audit.scan", "exifread"]):
    from audit.scan.reader import read_file
from judge import wrong_values  # noqa: E402
from starts import starts  # noqa: E402


def main() -> None:
    """Runs until told to stop, from the sound files."""
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        corpus, path = Path(folder) / "corpus", Path(folder) / "a.jpg"
        corpus.mkdir()
        for name, data in starts().items():
            (corpus / name).write_bytes(data)

        def one(data: bytes) -> None:
            path.write_bytes(data)
            wrong = wrong_values(read_file(path))
            if wrong:
                raise AssertionError(wrong)

        atheris.Setup([*sys.argv, str(corpus)], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
