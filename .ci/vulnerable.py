"""Asks which of the locked packages have a known vulnerability: one request to OSV (https://osv.dev/docs).

Exit code 1 where one has, else 0; where nobody answers within ten seconds a line says that it was skipped.
"""

from __future__ import annotations

import json
import os
import re
import sys
from pathlib import Path
from urllib.request import Request, urlopen

LOCK = Path(__file__).parents[1] / ".lock" / "dev.txt"
SERVICE = os.environ.get("CORNERSTOP_OSV", "https://api.osv.dev/v1/querybatch")
PATIENCE_S = 10


def locked() -> list[tuple[str, str]]:
    """Name and version of each package."""
    return re.findall(r"^([\w.-]+)==([^\s;\\]+)", LOCK.read_text(encoding="utf-8"), re.M)


def known(packages: list[tuple[str, str]]) -> list[str]:
    """A line for each package with a known vulnerability. Raises OSError and ValueError for no answer."""
    queries = [{"package": {"name": n, "ecosystem": "PyPI"}, "version": v} for n, v in packages]
    asked = Request(SERVICE, json.dumps({"queries": queries}).encode(), {"Content-Type": "application/json"})
    with urlopen(asked, timeout=PATIENCE_S) as answer:
        results = json.load(answer)["results"]
    return [
        f"{name} {version}: {', '.join(one['id'] for one in found['vulns'])}"
        for (name, version), found in zip(packages, results, strict=True)
        if found.get("vulns")
    ]


def main() -> int:
    """Tells it."""
    packages = locked()
    try:
        lines = known(packages)
    except (OSError, ValueError, KeyError) as error:
        sys.stdout.write(f"vulnerabilities of {len(packages)} packages not looked up, skipped: {error}\n")
        return 0
    sys.stdout.writelines(f"{line}\n" for line in lines)
    sys.stdout.write(f"{len(lines)} of {len(packages)} locked packages have a known vulnerability\n")
    return 1 if lines else 0


if __name__ == "__main__":
    sys.exit(main())
