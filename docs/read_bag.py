"""Lists frames and worn filters of a bag, after a check of every digest; standard library only."""

import csv
import hashlib
import sys
from pathlib import Path

bag = Path(sys.argv[1])
for manifest in ("manifest-sha512.txt", "tagmanifest-sha512.txt"):
    for line in (bag / manifest).read_text(encoding="utf-8").splitlines():
        digest, path = line.split("  ", 1)
        if hashlib.sha512((bag / path).read_bytes()).hexdigest() != digest:
            sys.exit(f"{path}: changed")
with (bag / "data/knowledge/frames.csv").open(encoding="utf-8", newline="") as file:
    for row in csv.DictReader(file):
        sys.stdout.write(f"{row['frame']}\t{row['declaration']}\t{row['rig_words']}\n")
