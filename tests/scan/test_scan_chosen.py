"""Which frames were chosen: keep.txt first, then the ratings of sidecars, both only read."""

from __future__ import annotations

import contextlib
import io
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from audit.prints.choose import Chosen, choose
from audit.prints.rating import MOST_BYTES, NoXmpError, rating
from audit.scan import scan

HEAD = '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
NAMED = 'xmlns:xmp="http://ns.adobe.com/xap/1.0/"'


def attribute(value: str) -> bytes:
    return (
        f'{HEAD}<rdf:Description rdf:about="" {NAMED} xmp:Rating="{value}"/></rdf:RDF></x:xmpmeta>'.encode()
    )


def element(value: str, prefix: str = "xmp") -> bytes:
    named = NAMED.replace("xmp=", f"{prefix}=")
    inner = f"<{prefix}:Rating>{value}</{prefix}:Rating>"
    about = f'<rdf:Description rdf:about="" {named}>{inner}</rdf:Description>'
    return f"{HEAD}{about}</rdf:RDF></x:xmpmeta>".encode()


def picture(path: Path, tone: int) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    out = io.BytesIO()
    Image.new("RGB", (8, 6), (tone, 90, 90)).save(out, "JPEG")
    path.write_bytes(out.getvalue())


@pytest.fixture
def dump(tmp_path: Path) -> Path:
    for n, name in enumerate(("a/TARN0101.JPG", "a/TARN0102.JPG", "b/TARN0101.JPG", "b/odd #1.JPG")):
        picture(tmp_path / name, 20 * n)
    return tmp_path


def chosen(dump: Path) -> Chosen:
    found = scan(dump)
    return choose(found.frames, found.beside)


@pytest.mark.parametrize("write", [attribute, element, lambda v: element(v, "other")])
@pytest.mark.parametrize(
    ("value", "read"),
    [
        ("5", 5),
        (" 3 ", 3),
        ("-1", -1),
        ("0", 0),
        ("2.5", 2.5),
        ("6", None),
        ("-2", None),
        ("", None),
        ("nan", None),
        ("inf", None),
        ("four", None),
    ],
)
def test_rating_as_attribute_and_as_element(write, value, read):
    assert rating(write(value)) == read


def test_rating_of_something_else_is_not_the_pictures():
    assert rating(b"<x/>") is None
    assert rating(HEAD.encode() + b"</rdf:RDF></x:xmpmeta>") is None
    other = attribute("5").replace(b"http://ns.adobe.com/xap/1.0/", b"http://example.org/")
    assert rating(other) is None
    part = f'<rdf:Description {NAMED} xmlns:p="http://example.org/"><p:made><rdf:RDF>'
    nested = f"{HEAD}{part}<rdf:Description xmp:Rating='5'/></rdf:RDF></p:made></rdf:Description>"
    assert rating(f"{nested}</rdf:RDF></x:xmpmeta>".encode()) is None


def test_encodings_of_xml_are_read():
    text = attribute("4").decode()
    assert rating(b"\xef\xbb\xbf" + text.encode()) == 4
    assert rating(text.encode("utf-16")) == 4
    packet = '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>' + text + '\n<?xpacket end="w"?>'
    assert rating(packet.encode()) == 4


BOMB = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;">]><x>&b;</x>'
OUTSIDE = b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><x>&a;</x>'
REMOTE = b'<!DOCTYPE x SYSTEM "http://example.org/x.dtd"><x/>'


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (BOMB, "document type"),
        (OUTSIDE, "document type"),
        (REMOTE, "document type"),
        (b"", "no XML"),
        (b"<x>&b;</x>", "no XML"),
        (b"<x>", "no XML"),
        (b"\xff\xfe\x00", "no XML"),
        (b'<?xml version="1.0" encoding="no"?><x/>', "no XML"),
        (b"<a>" * 9999, "too deep"),
        (b" " * (MOST_BYTES + 1), "larger than 8 MB"),
    ],
)
def test_what_is_no_xmp_is_refused(data, why):
    with pytest.raises(NoXmpError, match=why):
        rating(data)


@settings(deadline=None)
@given(st.binary(max_size=60), st.integers(0, 150))
def test_damaged_sidecars_are_refused_or_read_and_nothing_else(noise, at):
    whole = attribute("5")
    for data in (noise, whole[:at] + noise + whole[at:]):
        with contextlib.suppress(NoXmpError):
            read = rating(data)
            assert read is None or read == -1 or 0 <= read <= 5


def test_keep_file_names_frames_with_and_without_ending_and_folder(dump: Path) -> None:
    words = (
        "\ufeff# the best\r\na/TARN0101   # twice?\r\n\r\ntarn0102.jpg\r\nb\\TARN0101.JPG\r\nodd #1.JPG\r\n"
    )
    (dump / "keep.txt").write_text(words, encoding="utf-8", newline="")
    found = chosen(dump)
    assert found.kept == {
        "a/TARN0101": ("keep.txt", "keep.txt, line 2"),
        "a/TARN0102": ("keep.txt", "keep.txt, line 4"),
        "b/TARN0101": ("keep.txt", "keep.txt, line 5"),
        "b/odd #1": ("keep.txt", "keep.txt, line 6"),
    }
    assert found.mistakes == ()


def test_keep_file_of_a_folder_counts_from_there(dump: Path) -> None:
    (dump / "b" / "KEEP.TXT").write_text("TARN0101\n", encoding="utf-8")
    assert list(chosen(dump).kept) == ["b/TARN0101"]


def test_mistakes_in_a_keep_file_are_told_by_line(dump: Path) -> None:
    (dump / "keep.txt").write_text("TARN0101\ngone\n../a/TARN0102\n/etc/passwd\n", encoding="utf-8")
    found = chosen(dump)
    assert not found.kept
    assert [m.line for m in found.mistakes] == [1, 2, 3, 4]
    assert "may be a/TARN0101 or b/TARN0101" in found.mistakes[0].text
    (dump / "keep.txt").write_bytes(b"caf\xe9\n")
    assert "is not UTF-8" in chosen(dump).mistakes[0].text
    (dump / "keep.txt").write_bytes(b"x" * 1_000_001)
    assert "larger than 1 MB" in chosen(dump).mistakes[0].text


def test_ratings_where_no_keep_file_names_a_frame(dump: Path) -> None:
    (dump / "a" / "TARN0101.xmp").write_bytes(attribute("2"))
    (dump / "a" / "tarn0102.JPG.XMP").write_bytes(element("5"))
    (dump / "b" / "TARN0101.xmp").write_bytes(attribute("-1"))
    (dump / "b" / "gone.xmp").write_bytes(b"of no frame, so never read")
    found = chosen(dump)
    assert found.kept == {
        "a/TARN0102": ("rating 5", "a/tarn0102.JPG.XMP"),
        "a/TARN0101": ("rating 2", "a/TARN0101.xmp"),
    }
    assert list(found.kept) == ["a/TARN0102", "a/TARN0101"]
    assert found.rejected == {"b/TARN0101"}
    assert not found.mistakes
    (dump / "keep.txt").write_text("b/TARN0101", encoding="utf-8")
    assert list(chosen(dump).kept) == ["b/TARN0101"]


def test_sidecars_that_cannot_be_read_are_one_warning(dump: Path) -> None:
    for name in ("a/TARN0101", "a/TARN0102"):
        (dump / f"{name}.xmp").write_bytes(BOMB)
    (told,) = chosen(dump).mistakes
    assert told.level == "warning"
    assert "document type" in told.text and "1 more" in told.text


def test_nothing_is_followed_or_written(dump: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    outside = tmp_path_factory.mktemp("outside") / "secret.xmp"
    outside.write_bytes(attribute("5"))
    (dump / "a" / "TARN0101.xmp").symlink_to(outside)
    (dump / "a" / "._TARN0102.xmp").write_bytes(attribute("5"))
    (dump / "keep.txt").symlink_to(outside)
    before = sorted(p.name for p in dump.rglob("*"))
    assert chosen(dump) == Chosen()
    assert sorted(p.name for p in dump.rglob("*")) == before
