"""Sidecars of every kind that the XMP specification allows for, and some that it does not but that lie about.

After its examples where one shows the form (edition of September 2005; a page that was read is named); values
are ours.
"""

from __future__ import annotations

import codecs

RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
DC = 'xmlns:dc="http://purl.org/dc/elements/1.1/"'
XMP = 'xmlns:xmp="http://ns.adobe.com/xap/1.0/"'
EXIF = 'xmlns:exif="http://ns.adobe.com/exif/1.0/"'
SHOP = 'xmlns:photoshop="http://ns.adobe.com/photoshop/1.0/"'
PAGES = 'xmlns:xmpTPg="http://ns.adobe.com/xap/1.0/t/pg/" xmlns:stDim="http://ns.adobe.com/xap/1.0/sType/Dimensions#"'
MINE = 'xmlns:mine="http://example.com/mine/" xmlns:odd="urn:odd:things#"'
OWN = 'xmlns:cornerstop="http://cornerstop.invalid/xmp/frame/1.0/"'
BEGIN = '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
END = "\n" + (" " * 99 + "\n") * 5 + '<?xpacket end="w"?>'


def meta(inner: str, head: str = "", tail: str = "\n") -> str:
    """Descriptions in the usual wrapping."""
    start = f'<x:xmpmeta xmlns:x="adobe:ns:meta/">\n <rdf:RDF xmlns:rdf="{RDF}">'
    return f"{head}{start}\n{inner}\n </rdf:RDF>\n</x:xmpmeta>{tail}"


def node(names: str, inner: str, about: str = "") -> str:
    """One description in element form."""
    return f'  <rdf:Description rdf:about="{about}" {names}>\n{inner}\n  </rdf:Description>'


def bag(*words: str, kind: str = "Bag") -> str:
    """A dc:subject."""
    items = "".join(f"     <rdf:li>{word}</rdf:li>\n" for word in words)
    return f"   <dc:subject>\n    <rdf:{kind}>\n{items}    </rdf:{kind}>\n   </dc:subject>"


def languages(name: str, *pairs: tuple[str, str]) -> str:
    """A choice of languages."""
    items = "".join(f'     <rdf:li xml:lang="{lang}">{words}</rdf:li>\n' for lang, words in pairs)
    return f"   <dc:{name}>\n    <rdf:Alt>\n{items}    </rdf:Alt>\n   </dc:{name}>"


DATE = "   <xmp:CreateDate>2002-08-15T17:10:04Z</xmp:CreateDate>"
SIMPLE = meta(node(XMP, DATE))
TALL = meta(
    node(f"{DC} {XMP}", f"{bag('fjord', 'evening &amp; mist')}\n{DATE}\n   <xmp:Rating>4</xmp:Rating>")
)
_FIELDS = "<stDim:w>8.5</stDim:w><stDim:h>11.0</stDim:h><stDim:unit>inch</stDim:unit>"
_UTF16 = '<?xml version="1.0" encoding="UTF-16"?>\n'

SAMPLES: dict[str, bytes] = {
    name: text if isinstance(text, bytes) else text.encode("utf-8")
    for name, text in {
        "simple property, page 24": SIMPLE,
        "attribute form, page 24": meta(
            f'  <rdf:Description rdf:about="" {XMP} xmp:CreateDate="2002-08-15T17:10:04Z" xmp:Rating="3"/>'
        ),
        "structure": meta(
            node(
                PAGES,
                f"   <xmpTPg:MaxPageSize><rdf:Description>{_FIELDS}</rdf:Description></xmpTPg:MaxPageSize>",
            )
        ),
        "structure with parseType": meta(
            node(PAGES, f'   <xmpTPg:MaxPageSize rdf:parseType="Resource">{_FIELDS}</xmpTPg:MaxPageSize>')
        ),
        "structure as attributes": meta(
            node(PAGES, '   <xmpTPg:MaxPageSize stDim:w="8.5" stDim:h="11.0" stDim:unit="inch"/>')
        ),
        "keywords of the photographer's": TALL,
        "keyword that is ours too": meta(node(DC, bag("N10", "fjord"))),
        "keywords as a sequence": meta(node(DC, bag("fjord", kind="Seq"))),
        "keywords as alternatives": meta(node(DC, bag("fjord", kind="Alt"))),
        "keywords as a plain text": meta(node(DC, "   <dc:subject>fjord, mist</dc:subject>")),
        "keywords as an attribute": meta(f'  <rdf:Description rdf:about="" {DC} dc:subject="fjord"/>'),
        "keywords that RDF numbers": meta(
            node(DC, "   <dc:subject><rdf:Bag><rdf:_1>fjord</rdf:_1></rdf:Bag></dc:subject>")
        ),
        "keywords twice": meta(f"{node(DC, bag('fjord'))}\n{node(DC, bag('n10'))}"),
        "empty bag": meta(node(DC, "   <dc:subject><rdf:Bag/></dc:subject>")),
        "qualifiers with parseType": meta(
            node(
                f"{DC} {MINE}",
                '   <dc:creator>\n    <rdf:Seq>\n     <rdf:li rdf:parseType="Resource">'
                "<rdf:value>William Gilbert</rdf:value><mine:role>lyricist</mine:role></rdf:li>\n"
                '     <rdf:li rdf:parseType="Resource"><rdf:value>Arthur Sullivan</rdf:value>'
                "<mine:role>composer</mine:role></rdf:li>\n    </rdf:Seq>\n   </dc:creator>",
            )
        ),
        "qualifiers with a description": meta(
            node(
                f"{DC} {MINE}",
                "   <dc:subject><rdf:Bag><rdf:li><rdf:Description><rdf:value>g2</rdf:value>"
                "<mine:by>me</mine:by></rdf:Description></rdf:li></rdf:Bag></dc:subject>",
            )
        ),
        "languages, page 28": meta(
            node(
                DC,
                languages("title", ("x-default", "Platform"), ("en-us", "Platform"), ("it-it", "Piattaforma"))
                + "\n"
                + languages("description", ("x-default", "The photographer's own"), ("de", "Eigenes")),
            )
        ),
        "description with an empty default": meta(node(DC, languages("description", ("x-default", "")))),
        "description in German alone": meta(node(DC, languages("description", ("de", "Abend am Fjord")))),
        "description as an attribute": meta(f'  <rdf:Description rdf:about="" {DC} dc:description="mine"/>'),
        "description without words": meta(node(DC, "   <dc:description><rdf:Alt/></dc:description>")),
        "unknown namespaces": meta(
            node(
                MINE,
                "   <mine:Look>soft</mine:Look>\n   <odd:steps><rdf:Seq>"
                '<rdf:li rdf:parseType="Resource"><odd:what>crop</odd:what><odd:box><rdf:Bag>'
                "<rdf:li>1</rdf:li><rdf:li>2</rdf:li></rdf:Bag></odd:box></rdf:li>"
                '<rdf:li odd:what="turn" odd:by="-1.5"/></rdf:Seq></odd:steps>',
            )
        ),
        "CDATA and comments": meta(
            node(
                f"{DC} {MINE}",
                "   <!-- by hand -->\n   <mine:Script><![CDATA[if (a < b && b > c) { }]]></mine:Script>\n"
                + bag("<![CDATA[rock & roll]]>"),
            ),
            head="<!-- before -->\n",
            tail="\n<!-- behind -->\n",
        ),
        "instructions inside": meta('  <?mine keep="this"?>\n' + node(XMP, DATE) + "\n  <?mine and this?>"),
        "byte order mark": codecs.BOM_UTF8 + TALL.encode("utf-8"),
        "UTF-16, little end first": codecs.BOM_UTF16_LE + (_UTF16 + TALL).encode("utf-16-le"),
        "UTF-16, big end first, no declaration": codecs.BOM_UTF16_BE + TALL.encode("utf-16-be"),
        "UTF-16 without a mark": (_UTF16 + TALL).encode("utf-16-le"),
        "UTF-32": codecs.BOM_UTF32_BE + TALL.encode("utf-32-be"),
        "Latin-1": (
            '<?xml version="1.0" encoding="ISO-8859-1"?>\n' + meta(node(DC, bag("Dämmerung")))
        ).encode("latin-1"),
        "packet wrapper": meta(node(XMP, DATE), head=BEGIN, tail=END),
        "packet wrapper in UTF-16": codecs.BOM_UTF16_LE
        + meta(node(DC, bag("ø")), head=BEGIN, tail=END).encode("utf-16-le"),
        "several descriptions": meta(
            "\n".join((node(XMP, DATE), node(DC, bag("fjord")), node(MINE, "   <mine:Look>soft</mine:Look>")))
        ),
        "rdf:about with a name": meta(
            "\n".join(node(n, i, "uuid:8F5C8A60-0C3E") for n, i in ((XMP, DATE), (DC, bag("fjord"))))
        ),
        "about without a namespace": meta(f'  <rdf:Description about="" {XMP} xmp:Rating="2"/>'),
        "no about": meta(f"  <rdf:Description {DC}>\n{bag('fjord')}\n  </rdf:Description>"),
        "a description of something else": meta(
            node(XMP, DATE, "uuid:1") + "\n" + node(DC, bag("not ours"), "uuid:2")
        ),
        "rdf:RDF outermost": f'<rdf:RDF xmlns:rdf="{RDF}">\n{node(XMP, DATE)}\n</rdf:RDF>',
        "the older wrapping, page 22": SIMPLE.replace("xmpmeta", "xapmeta").replace(
            "<x:xapmeta ", '<x:xapmeta x:xmptk="some tool 4.2" mine="1" ', 1
        ),
        "other prefixes": f'<m:xmpmeta xmlns:m="adobe:ns:meta/"><r:RDF xmlns:r="{RDF}">'
        '<r:Description r:about="" xmlns:cornerstop="http://example.com/other/" xmlns:dc="urn:not-dublin">'
        "<cornerstop:Schema>theirs</cornerstop:Schema><dc:subject>theirs</dc:subject>"
        '<subject xmlns="http://purl.org/dc/elements/1.1/"><r:Bag><r:li>fjord</r:li></r:Bag></subject>'
        "</r:Description></r:RDF></m:xmpmeta>",
        "CR and LF": TALL.replace("\n", "\r\n"),
        "no blanks": TALL.replace("\n", "").replace("> <", "><").replace("  ", ""),
        "tabs": TALL.replace("  ", "\t"),
        "nothing described": meta(""),
        "empty list": f'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="{RDF}"/></x:xmpmeta>',
        "an outermost list without an end tag": f'<rdf:RDF xmlns:rdf="{RDF}" />\n<!-- a > b -->',
        "quotes and references": meta(
            f"  <rdf:Description rdf:about='' {MINE} mine:a='say \"no\"'"
            ' mine:b="a&#xA;b&#9;&lt;&#x1F600;"/>'
        ),
        "values that are addresses": meta(
            node(MINE, '   <mine:from rdf:resource="http://example.com/x?a=1&amp;b=2"/>\n   <mine:none/>')
        ),
        "languages of plain values": meta(
            node(f"{DC} {MINE}", '   <mine:Look xml:lang="no" xml:space="preserve">  mykt  </mine:Look>')
        ),
        "standard values of theirs": meta(
            f'  <rdf:Description rdf:about="" {SHOP} {EXIF} photoshop:DateCreated="2020-01-01"'
            ' exif:FNumber="56/10"/>'
        ),
        "standard values of theirs, empty": meta(node(SHOP, "   <photoshop:DateCreated/>")),
    }.items()
}
