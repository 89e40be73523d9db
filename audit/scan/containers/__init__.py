"""One module a container, which finds the TIFF blocks of a file; the first bytes say which it is."""

from __future__ import annotations

from audit.message.text import marked, say
from audit.scan.containers import boxed, cr3, crw, heif, jpeg, png, raf, rw2, tiff, webp
from audit.scan.containers.found import MOST_PX, Found, Preview
from audit.scan.containers.preview import best_preview, largest_preview
from audit.scan.containers.source import Source
from audit.scan.tags import not_possible

# Endings that only tell members of the TIFF family apart.
_TIFF_LABELS = {
    **{
        ending: ending.upper()
        for ending in ("dng", "cr2", "nef", "nrw", "arw", "sr2", "srf", "pef", "orf", "iiq")
    },
    **{
        ending: ending.upper()
        for ending in ("srw", "rwl", "3fr", "fff", "kdc", "dcr", "mef", "mos", "erf", "gpr")
    },
}
EMPTY = marked("the file is empty")
_ORF_MAGIC = (b"IIRO", b"IIRS", b"MMOR")
_HEIF_BRANDS = (b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1", b"avif", b"avis")


def find_blocks(source: Source, ending: str) -> Found:
    """The TIFF blocks of an open file and its preview.

    `ending` is lower case, without the dot; the content outweighs it.
    """
    found = _find(source, ending)
    sides = (found.width_px, found.height_px)
    if any(side is not None and side > MOST_PX for side in sides):
        found.width_px = found.height_px = None
        found.notes.append(not_possible(marked("size of the picture"), f"{sides[0]} x {sides[1]}"))
    found.preview = best_preview(source, found.jpegs)
    return found


def full_preview(source: Source, ending: str) -> Preview | None:
    """The largest JPEG that an open file embeds, None where it has none but thumbnails."""
    return largest_preview(source, _find(source, ending).jpegs)


def _find(source: Source, ending: str) -> Found:
    head = source.at(0, 16)
    if head[:2] == b"\xff\xd8":
        return jpeg.find(source)
    if head[:4] in (b"II*\0", b"MM\0*"):
        return tiff.find(source, "CR2" if head[8:10] == b"CR" else _TIFF_LABELS.get(ending, "TIFF"))
    if head[:4] in _ORF_MAGIC:
        return tiff.find(source, "ORF")
    if head[:4] == b"IIU\0":
        return rw2.find(source)
    if head == b"FUJIFILMCCD-RAW ":
        return raf.find(source)
    if head[4:12] == b"ftypcrx ":
        return cr3.find(source)
    if head[4:8] == b"ftyp" and head[8:12] in _HEIF_BRANDS:
        return heif.find(source)
    if head[6:14] == b"HEAPCCDR":
        return crw.find(source)
    return _find_export(source, head) or Found(ending.upper(), problem=_unknown(source, ending, head))


def _find_export(source: Source, head: bytes) -> Found | None:
    """The formats that no camera writes, but programs that save its pictures."""
    if head[:8] == png.MAGIC:
        return png.find(source)
    if webp.is_webp(head):
        return webp.find(source)
    if head[:12] == boxed.XL_MAGIC:
        return boxed.find_xl(source)
    if head[:12] == boxed.J2_MAGIC:
        return boxed.find_2000(source)
    if head[:2] == boxed.XL_BARE:
        return boxed.bare("JPEG XL")
    return boxed.bare("JPEG 2000") if head[:4] == boxed.J2_BARE else None


def _unknown(source: Source, ending: str, head: bytes) -> str:
    if source.size == 0:
        return EMPTY
    if head[:4] in (b"II+\0", b"MM\0+"):
        return marked("the file is a BigTIFF, which is not read")
    if not any(head):
        return marked("the file starts with zeros: it was never written, or the card has lost it")
    return say(
        "the file does not start like a picture that is read here (its name ends in .{ending_written})",
        ending_written=ending,
    )
