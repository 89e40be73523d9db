"""Merging into sidecars of many kinds: all that is not ours says the same as before, by two other readers."""

import pytest
from graphs import apart_from_ours, canonical, decoded, graph, same
from rdflib import Literal, URIRef
from samples import DC, OWN, SAMPLES, bag, languages, meta, node

from audit.xmp.known import Known
from audit.xmp.merge import merge
from audit.xmp.names import DATE_CREATED, F_NUMBER

KNOWN = Known(
    {
        "Schema": "1",
        "Declaration": "worn",
        "Filters": ("n10", "g2"),
        "StopsExpectedMin": "10",
        "ClockTime": "2026-05-02T05:10:00",
    },
    ("n10", "g2"),
    "77 mm ring, holder: 10-stop neutral ø",
    {DATE_CREATED: "2026-05-02T04:10:00+02:00", F_NUMBER: "8/1"},
)
OTHER = Known({"Schema": "1", "Declaration": "bare"}, ("n6",), "bare lens", {DATE_CREATED: "2026-05-02"})
KINDS = pytest.mark.parametrize("data", SAMPLES.values(), ids=SAMPLES.keys())


def subjects(data):
    """The keywords, by rdflib."""
    found = graph(data)
    name = URIRef("http://purl.org/dc/elements/1.1/subject")
    return sorted(
        str(word)
        for held in found.objects(None, name)
        for word in found.objects(held)
        if isinstance(word, Literal)
    )


def test_there_are_enough_kinds():
    assert len(SAMPLES) >= 20


@KINDS
def test_all_else_says_the_same(data):
    after = merge(data, KNOWN).after
    old, new = apart_from_ours(data, after, KNOWN)
    assert same(old, new), "\n".join(sorted(set(new.serialize(format="nt").splitlines())))
    assert len(graph(after)) > len(old)


@KINDS
def test_merging_twice_changes_nothing(data):
    once = merge(data, KNOWN).after
    assert once != data
    assert merge(once, KNOWN).after is once


@KINDS
def test_what_is_taken_back_leaves_no_trace(data):
    after = merge(merge(data, KNOWN).after, Known()).after
    assert canonical(after) == canonical(data)


@KINDS
def test_an_update_replaces_ours_alone(data):
    updated = merge(merge(data, KNOWN).after, OTHER).after
    assert same(graph(updated), graph(merge(data, OTHER).after))
    assert canonical(merge(updated, Known()).after) == canonical(data)


@KINDS
def test_head_tail_and_encoding_stay(data):
    before, after = decoded(data), decoded(merge(data, KNOWN).after)
    start = before.index("<", before.rindex("?>", 0, before.index("RDF")) if "?>" in before[:120] else 0)
    assert after.startswith(before[:start])
    end = max(before.rindex("meta>") if "meta>" in before else 0, before.rindex("RDF", 0))
    assert after.endswith(before[before.index(">", end) + 1 :])
    assert ("\r" in after) == ("\r" in before)
    assert after.count("\r") in (0, after.count("\n"))


def test_a_new_one_is_a_whole_document():
    made = merge(None, KNOWN)
    assert made.before is None and made.before_text == ""
    assert made.after.startswith(b'<?xml version="1.0" encoding="UTF-8"?>\n<x:xmpmeta ')
    assert subjects(made.after) == ["g2", "n10"]
    assert merge(made.after, KNOWN).after is made.after


def test_keywords_are_neither_doubled_nor_taken_away():
    data = SAMPLES["keyword that is ours too"]
    after = merge(data, KNOWN).after
    assert subjects(after) == ["N10", "fjord", "g2"]
    assert subjects(merge(after, OTHER).after) == ["N10", "fjord", "n6"]


def test_a_keyword_that_was_taken_out_stays_out():
    after = merge(SAMPLES["keywords of the photographer's"], KNOWN).after
    edited = after.replace(b"<rdf:li>g2</rdf:li>", b"", 1)
    assert subjects(edited) == ["evening & mist", "fjord", "n10"]
    known = Known({**KNOWN.own, "Declaration": "unknown"}, KNOWN.keywords)
    assert subjects(merge(edited, known).after) == ["evening & mist", "fjord", "n10"]


@pytest.mark.parametrize(
    "kind",
    [
        "keywords as a plain text",
        "keywords as an attribute",
        "keywords as alternatives",
        "keywords that RDF numbers",
    ],
)
def test_keywords_that_are_no_list_are_left_alone(kind):
    after = merge(SAMPLES[kind], KNOWN).after
    assert b"n10</rdf:li>\n" not in after.partition(b"cornerstop:Filters")[0]


@pytest.mark.parametrize(
    ("kind", "ours"),
    [
        ("simple property, page 24", True),
        ("description with an empty default", True),
        ("description without words", False),
        ("languages, page 28", False),
        ("description in German alone", False),
        ("description as an attribute", False),
    ],
)
def test_a_description_is_written_only_where_there_is_none(kind, ours):
    after = decoded(merge(SAMPLES[kind], KNOWN).after)
    assert (f'<rdf:li xml:lang="x-default">{KNOWN.description}</rdf:li>' in after) == ours


def test_a_description_that_was_changed_is_the_photographers():
    after = decoded(merge(SAMPLES["simple property, page 24"], KNOWN).after)
    mine = after.replace(f">{KNOWN.description}<", ">Evening at the tarn<", 1).encode()
    again = decoded(merge(mine, OTHER).after)
    assert ">Evening at the tarn<" in again and "bare lens</rdf:li>" not in again


def test_standard_values_of_theirs_stay():
    for kind in ("standard values of theirs", "standard values of theirs, empty"):
        after = decoded(merge(SAMPLES[kind], KNOWN).after)
        assert after.count("DateCreated") - after.count("</photoshop:DateCreated>") == 1
        assert ">2026-05-02T04:10:00+02:00<" not in after


def test_ours_are_known_again_in_whatever_form_another_program_wrote_them():
    """As attributes, in one description with others, the bag in another order."""
    known = Known({"Schema": "1", "Declaration": "worn"}, ("n10", "g2"))
    placed = "<rdf:li>dc:subject n10</rdf:li><rdf:li>dc:subject g2</rdf:li>"
    data = meta(
        f'  <rdf:Description rdf:about="" {DC} {OWN} cornerstop:Schema="1" cornerstop:Declaration="worn">\n'
        f"{bag('g2', 'n10')}\n   <cornerstop:Placed><rdf:Bag>{placed}</rdf:Bag></cornerstop:Placed>\n"
        "  </rdf:Description>"
    ).encode()
    assert not merge(data, known).changed
    after = merge(data, Known({"Schema": "1", "Declaration": "bare"})).after
    assert subjects(after) == [] and after.count(b"Declaration>bare<") == 1
    assert b'cornerstop:Declaration="' not in after


def test_a_language_beside_ours_stays_when_ours_goes():
    data = meta(node(DC, languages("description", ("x-default", "")))).encode()
    after = decoded(merge(data, KNOWN).after)
    more = after.replace("    </rdf:Alt>", '     <rdf:li xml:lang="de">Abend</rdf:li>\n    </rdf:Alt>', 1)
    again = decoded(merge(more.encode(), Known({"Schema": "1"})).after)
    assert ">Abend</rdf:li>" in again and KNOWN.description not in again


def test_words_that_xml_cannot_hold():
    made = merge(None, Known({"Schema": "1", "Ring": "a\\x00b & <c> ]]>"}))
    assert "a\\x00b &amp; &lt;c&gt; ]]&gt;" in decoded(made.after)
