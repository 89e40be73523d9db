"""Sound files of every format that is read, to be damaged: small, made here, of invented gear."""

from __future__ import annotations

import io
import zlib
from functools import cache
from typing import Any

import camera_files as made
import notes_files
from camera_files import box, ratio, raw, short, text, whole
from PIL import Image

from audit.demo.exif_block import with_exif
from audit.demo.header import with_preview

GPS: made.Tags = {
    1: text("N"),
    2: ratio((61, 1), (14, 1), (0, 1)),
    3: text("E"),
    4: ratio((7, 1), (59, 1), (0, 1)),
    7: ratio((3, 1), (10, 1), (0, 1)),
    9: text("A"),
    0x1D: text("2026:05:02"),
}
MORE: made.Tags = {
    0x8822: short(3),
    0x8830: short(2),
    0x8832: whole(100),
    0x9201: made.signed((697, 100)),
    0x9202: ratio((692, 100)),
    0x9204: made.signed((-1, 3)),
    0x9206: ratio((100, 1)),
    0x9207: short(5),
    0x9209: short(16),
    0xA001: short(1),
    0xA002: whole(600),
    0xA003: whole(400),
    0xA402: short(0),
    0xA403: short(1),
    0xA405: short(24),
    0xA20E: ratio((600, 36)),
    0xA20F: ratio((600, 36)),
    0xA210: short(4),
    0xA432: ratio((16, 1), (35, 1), (4, 1), (4, 1)),
    0xA435: text("SER778"),
    0xA460: short(1),
    0x9286: raw(b"ASCII\0\0\0a note"),
}
XMP = (
    b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta xmlns:x='adobe:ns:meta/'>"
    b"<rdf:RDF xmlns:rdf='http://www.w3.org/1999/02/22-rdf-syntax-ns#'><rdf:Description rdf:about='' "
    b"xmlns:xmp='http://ns.adobe.com/xap/1.0/' xmp:Rating='4'/></rdf:RDF></x:xmpmeta>"
)
ICC = (
    b"ICC_PROFILE\0\1\1"
    + bytes(128)
    + b"\0\0\0\1desc\0\0\0\x90\0\0\0\x20desc\0\0\0\0\0\0\0\x05sRGB\0"
    + bytes(20)
)


def photo(form: str = "JPEG", width: int = 600, height: int = 400, **save: Any) -> bytes:
    out = io.BytesIO()
    Image.radial_gradient("L").resize((width, height)).convert("RGB").save(out, form, **save)
    return out.getvalue()


def block(order: str = "<", **frame: Any) -> bytes:
    frame.setdefault("more", MORE)
    return made.block(order, GPS, photo(width=80, height=54), sub_second="25", offset="+02:00", **frame)


def in_strips(order: str) -> bytes:
    """A TIFF family file with a preview in a sub-directory."""
    preview, (first, exif) = photo(width=640, height=427), made.camera(more=MORE)

    def file(at: int) -> bytes:
        sub = {0x103: short(7), 0x106: short(6), 0x111: whole(at), 0x117: whole(len(preview))}
        return made.tiff(first, exif, GPS, photo(width=80, height=54), order, sub=sub)

    return file(len(file(0))) + preview


def segmented(exif: bytes) -> bytes:
    """A JPEG with every kind of segment that is looked into, and a preview behind the picture."""
    whole_file = with_preview(with_exif(photo(), exif), photo(width=640, height=427))
    return whole_file[:2] + made.segment(0xE1, XMP) + made.segment(0xE2, ICC) + whole_file[2:]


def png_text(exif: bytes) -> bytes:
    """A PNG whose block is packed hexadecimal text."""
    words = b"\nexif\n%8d\n%s\n" % (len(exif) + 6, (b"Exif\0\0" + exif).hex().encode())
    content = b"Raw profile type exif\0\0" + zlib.compress(words)
    chunk = b"zTXt" + content
    plain = photo("PNG", 60, 40)
    return (
        plain[:33]
        + len(content).to_bytes(4, "big")
        + chunk
        + zlib.crc32(chunk).to_bytes(4, "big")
        + plain[33:]
    )


def jpeg_xl(exif: bytes) -> bytes:
    head = b"\0\0\0\x0cJXL \r\n\x87\n" + box(b"ftyp", b"jxl \0\0\0\0jxl ")
    return head + box(b"jxlc", b"\xff\x0a") + box(b"Exif", bytes(4) + exif)


def jpeg_2000(exif: bytes) -> bytes:
    head = b"\0\0\0\x0cjP  \r\n\x87\n" + box(b"ftyp", b"jp2 \0\0\0\0jp2 ")
    head += box(b"jp2h", box(b"ihdr", b"\0\0\x01\x90\0\0\x02\x58\0\3\7\7\0\0"))
    return head + box(b"uuid", b"JpgTiffExif->JP2" + exif) + box(b"jp2c", b"\xff\x4f\xff\x51")


def split() -> bytes:
    first, exif = made.camera(more=MORE)
    return made.cr3(made.tiff(first), made.tiff(exif), made.tiff(GPS), made.THUMBNAIL)


@cache
def starts() -> dict[str, bytes]:
    """The files by name."""
    little, big = block(), block(">")
    canon = notes_files.from_the_block(
        "Canon", {4: short(*range(34)), 0x95: text("Sund 16-35")}, without=(0xA434,)
    )
    nikon = notes_files.noted("NIKON", notes_files.with_own_header({2: short(0, 400), 0x1D: text("12345")}))
    fuji = notes_files.noted(
        "FUJIFILM", notes_files.from_its_start({0x10: text("FF 123")}), without=(0xA431,)
    )
    return {
        "little.jpg": with_exif(photo(), little),
        "big.jpg": with_exif(photo(), big),
        "segments.jpg": segmented(little),
        "progressive.jpg": with_exif(photo(progressive=True), big),
        "canon.jpg": made.jpeg(canon),
        "nikon.jpg": made.jpeg(nikon),
        "fuji.jpg": made.jpeg(fuji),
        "plain.tif": made.tiff(*made.camera(more=MORE), GPS),
        "picture.tif": photo("TIFF", 300, 200),
        "strips.nef": in_strips("<"),
        "strips.dng": in_strips(">"),
        "a.cr3": split(),
        "a.raf": made.raf(with_exif(photo(width=640, height=427), little)),
        "a.rw2": made.rw2(with_exif(photo(width=640, height=427), little), (4, 4, 404, 604)),
        "a.crw": made.crw(),
        "a.heic": made.heif(little, (600, 400)),
        "a.avif": made.heif(big, (600, 400), version=1).replace(b"ftypheic", b"ftypavif"),
        "a.png": photo("PNG", 300, 200, exif=b"Exif\0\0" + little),
        "text.png": png_text(big),
        "a.webp": photo("WEBP", 300, 200, exif=b"Exif\0\0" + little),
        "a.jxl": jpeg_xl(little),
        "a.jp2": jpeg_2000(big),
    }
