"""What is no packet, or may not be read, is refused with a reason, and fast."""

import re
import time
from pathlib import Path

import pytest
from samples import SAMPLES, SIMPLE, meta

from audit.xmp.known import Known
from audit.xmp.merge import merge
from audit.xmp.packet import MOST_BYTES, NotXmpError, read

HOSTILE = Path(__file__).parents[3] / "shared" / "hostile"
LAUGHS = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 10))
XML = '<?xml version="1.0"?>\n'
BAD = {
    "bomb of entities": (f'<!DOCTYPE x [<!ENTITY a0 "ha">{LAUGHS}]>{SIMPLE}', "document type"),
    "bomb of one large entity": (
        f'<!DOCTYPE x [<!ENTITY a "{"x" * 100_000}">]>' + meta("&a;" * 10_000),
        "document type",
    ),
    "external entity": (
        '<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>' + meta("&a;"),
        "document type",
    ),
    "parameter entity": (
        f'<!DOCTYPE x [<!ENTITY % a SYSTEM "http://127.0.0.1:9/x">%a;]>{SIMPLE}',
        "document type",
    ),
    "external type": (f'{XML}<!DOCTYPE x SYSTEM "http://127.0.0.1:9/x.dtd">{SIMPLE}', "document type"),
    "an entity nobody declares": (meta("&a;"), "no XML"),
    "nested too deep": (meta("<rdf:Description>" * 200 + "</rdf:Description>" * 200), "too deep"),
    "too many elements": (meta("<a/>" * 200_001), "too many"),
    "too many attributes": (
        meta("<rdf:Description " + " ".join(f"a{n}='1'" for n in range(2_001)) + "/>"),
        "too many",
    ),
    "a name without its namespace": (meta("<rdf:Description><mine:a/></rdf:Description>"), "no XML"),
    "cut short": (SIMPLE[: len(SIMPLE) // 2], "no XML"),
    "two packets": (SIMPLE + SIMPLE, "no XML"),
    "not XML": ("Rating: 4\n", "no XML"),
    "nothing": ("", "no XML"),
    "another XML": ("<html><body/></html>", "holds no rdf:RDF"),
    "empty element": ('<x a=">"/>', "holds no rdf:RDF"),
    "two lists": (
        re.sub(r"<rdf:RDF.*</rdf:RDF>", lambda found: found[0] * 2, SIMPLE, flags=re.S),
        "more than one rdf:RDF",
    ),
    "an encoding of its own": ('<?xml version="1.0" encoding="EBCDIC-CP-US"?>' + SIMPLE, "ebcdic"),
    "UTF-16 that is not": ('<?xml version="1.0" encoding="UTF-16"?>' + SIMPLE, "utf-16"),
    "half a character": (b"\xff\xfe" + SIMPLE.encode("utf-16-le")[:-1], "no utf-16-le text"),
    "not UTF-8": (SIMPLE.encode().replace(b"2002", b"\xff"), "no utf-8 text"),
    "too large": (b" " * (MOST_BYTES + 1), "larger than 8 MB"),
}


@pytest.mark.parametrize(("data", "why"), BAD.values(), ids=BAD.keys())
def test_refused(data, why):
    began = time.process_time()
    with pytest.raises(NotXmpError, match=why):
        merge(data if isinstance(data, bytes) else data.encode(), Known({"Schema": "1"}))
    assert time.process_time() - began < 2


def test_the_entity_bomb_of_the_hostile_pictures_is_refused_as_a_sidecar():
    picture = HOSTILE / "22_xmp_billion_laughs.jpg"
    if not picture.is_file():
        pytest.skip("../shared/hostile is not here")
    data = picture.read_bytes()
    bomb = data[data.index(b"<?xml") : data.index(b"</x:xmpmeta>") + len(b"</x:xmpmeta>")]
    with pytest.raises(NotXmpError, match="document type"):
        read(bomb)


def test_other_markup_is_not_followed():
    """XInclude and style sheets are data."""
    held = '<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" href="/etc/passwd" parse="text"/>'
    data = ('<?xml-stylesheet href="file:///etc/passwd"?>\n' + meta(held)).encode()
    after = merge(data, Known({"Schema": "1"})).after
    assert held.encode() in after and b"root:" not in after


def test_every_cut_of_a_packet_is_refused_or_read():
    """No other error than ours, wherever a card broke off."""
    whole = SAMPLES["packet wrapper in UTF-16"]
    for end in range(0, len(whole), 7):
        try:
            read(whole[:end])
        except NotXmpError:
            continue
