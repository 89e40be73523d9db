"""Packets put together at random: all else says the same, and what is taken back leaves no trace."""

from graphs import apart_from_ours, canonical, same
from hypothesis import given, settings
from hypothesis import strategies as st
from samples import BEGIN, DC, END, EXIF, MINE, SHOP, XMP, bag, languages, meta

from audit.xmp.known import Known
from audit.xmp.merge import merge
from audit.xmp.names import DATE_CREATED, F_NUMBER

WORDS = st.text(st.sampled_from("ab ø&<>\"'n1\u20ac\U0001f600"), max_size=4).map(
    lambda words: words.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;")
)
KEYWORDS = st.sampled_from(["n10", "N6", "fjord", "mist", "g2"])
PROPERTIES = st.one_of(
    st.lists(KEYWORDS, max_size=3, unique=True).map(lambda words: bag(*words)),
    st.tuples(st.sampled_from(["x-default", "de", "en"]), WORDS).map(
        lambda pair: languages("description", pair)
    ),
    WORDS.map(lambda words: f"   <mine:Look>{words}</mine:Look>"),
    WORDS.map(lambda words: f"   <photoshop:DateCreated>{words}</photoshop:DateCreated>"),
    WORDS.map(lambda words: f'   <odd:box rdf:parseType="Resource"><odd:in>{words}</odd:in></odd:box>'),
    st.just("   <!-- a remark -->"),
    st.just("   <exif:FNumber>56/10</exif:FNumber>"),
)
NAMES = f"{DC} {EXIF} {MINE} {SHOP} {XMP}"
KNOWNS = st.builds(
    Known,
    st.fixed_dictionaries(
        {"Schema": st.just("1")}, optional={"Ring": st.just("r77"), "Filters": st.just(("n10",))}
    ),
    st.lists(st.sampled_from(["n10", "n6", "g2"]), max_size=3, unique=True).map(tuple),
    st.sampled_from(["", "a ring <ø>", "bare lens"]),
    st.fixed_dictionaries({}, optional={DATE_CREATED: st.just("2026-05-02"), F_NUMBER: st.just("8/1")}),
)


@st.composite
def packets(draw):
    """Descriptions with properties each at most once, in several, laid out in one of three ways."""
    pieces = draw(st.lists(PROPERTIES, max_size=6, unique_by=lambda piece: piece.split(">")[0].split()[0]))
    cuts = draw(st.integers(1, 3))
    nodes = [
        f'  <rdf:Description rdf:about="" {NAMES} xmp:Rating="{n}">\n'.replace(
            f' xmp:Rating="{n}"' if n else "", ""
        )
        + "\n".join(pieces[n::cuts])
        + "\n  </rdf:Description>"
        for n in range(cuts)
    ]
    wrapped = draw(st.booleans())
    text = meta("\n".join(nodes), BEGIN if wrapped else "", END if wrapped else "")
    layout = draw(st.sampled_from(["lines", "crlf", "none"]))
    text = {"lines": text, "crlf": text.replace("\n", "\r\n"), "none": text.replace("\n", " ")}[layout]
    encoding = draw(st.sampled_from(["utf-8", "utf-16-le"]))
    return (b"\xff\xfe" if encoding == "utf-16-le" else b"") + text.encode(encoding)


@settings(max_examples=60)
@given(packets(), KNOWNS, KNOWNS)
def test_any_packet(data, known, other):
    once = merge(data, known).after
    assert merge(once, known).after is once
    assert canonical(merge(once, Known()).after) == canonical(data)
    old, new = apart_from_ours(data, once, known)
    assert same(old, new)
    later = merge(once, other).after
    assert merge(later, other).after is later
    assert canonical(merge(later, Known()).after) == canonical(data)
