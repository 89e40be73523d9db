"""The files beside data: what a bag says of itself, its manifests, and the seal that lies beside the bag."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from audit import __version__
from audit.archive.bag_info import BAGIT, FORM, OURS, bag_info_text
from audit.archive.manifest_text import manifest_text
from audit.archive.package import KNOWLEDGE, PICTURES, README, TABLES, package_text
from audit.disk.workplace import Kept

TAGS = "tagmanifest-sha512.txt"


@dataclass(frozen=True)
class Told:
    """What a bag says of itself besides its files: `date` as 2026-05-02, files left out, dumps by name."""

    title: str
    date: str
    left: int
    dumps: Sequence[str] = ()
    updated: Sequence[str] = ()
    algorithms: Sequence[str] = ("sha512",)


def tag_files(payload: Mapping[str, Kept], told: Told) -> dict[str, bytes]:
    """All of them but the tag manifest."""
    size, count = size_and_count(payload)
    known = {f"{KNOWLEDGE}/{name}" for name in TABLES}
    others = [path for path in payload if path.startswith(f"{KNOWLEDGE}/") and path not in known]
    info = [
        ("Bagging-Date", told.date),
        ("Bag-Software-Agent", f"cornerstop {__version__}"),
        ("External-Identifier", told.title),
        ("Payload-Oxum", f"{size}.{count}"),
        ("Pictures-Folder-Files", str(sum(path.startswith(f"{PICTURES}/") for path in payload))),
        ("Files-Not-Archived", str(told.left)),
        *(("Updated", date) for date in told.updated),
        (OURS, FORM),
    ]
    manifests = {
        f"manifest-{one}.txt": manifest_text({path: kept.sums[one] for path, kept in payload.items()})
        for one in told.algorithms
    }
    return {
        "README.txt": README.encode("utf-8"),
        "bag-info.txt": bag_info_text(info),
        "bagit.txt": BAGIT,
        "datapackage.json": package_text(told.title, f"{told.date}T00:00:00Z", others, told.dumps),
        **manifests,
    }


def size_and_count(payload: Mapping[str, Kept]) -> tuple[int, int]:
    """Bytes and files."""
    return sum(kept.size for kept in payload.values()), len(payload)


def seal_text(name: str, digest: str) -> bytes:
    """NAME.sha512: the digest of the tag manifest, as sha512sum reads it beside the bag."""
    return manifest_text({f"{name}/{TAGS}": digest})
