"""Frames with what the estimate says of them, for tests of the draft, and the kit they were taken with."""

KIT = """\
[[body]]
name = "A"
model = "Brattholm Tarn"
sensor_mm = [36.0, 24.0]

[[lens]]
id = "w16"
exif = ["Sund 16-35 mm f4"]
thread_mm = 77
focal_mm = [16, 35]

[[ring]]
id = "r77"
thread_mm = 77
kind = "standard"

[[ring]]
id = "r77low"
thread_mm = 77
kind = "recessed"

[[holder]]
id = "main"
slots = 2
front_ring_mm = 98

[[filter]]
id = "n6"
kind = "neutral"
stops = 6
gasket = true

[[filter]]
id = "g2"
kind = "grad-soft"
stops = 2

[[filter]]
id = "n4"
kind = "neutral"
stops = 4

[[filter]]
id = "pol"
kind = "polariser"
round = true
"""


def estimated(table, *rows):
    """Undeclared frames a minute apart with what the estimate says of each."""
    full = []
    for number, row in enumerate(rows):
        name = f"100BRAT/TARN{101 + number:04d}"
        full.append(
            {
                "captured_at": f"2026-05-02 10:{number:02d}:00",
                "files": [f"{name}.JPG"],
                "declaration": "undeclared",
                "declaration_source": None,
                "rig": None,
                "lens_id": "w16",
                "estimated_words": "ev100 fell 6.0 while the scene held",
                "estimated_probability": 0.93,
                "estimated_plain": row.get("estimated_class"),
                "estimated_several": False,
                **row,
            }
        )
    return table(full)


NONE = {"estimated_sets": [""], "estimated_class": "no neutral", "estimated_sure": "likely"}
SIX = {"estimated_sets": ["n6"], "estimated_class": "about 6 stops: n6", "estimated_sure": "sure"}
DOUBT = {
    "estimated_sets": ["n4"],
    "estimated_class": "about 4 stops: n4; or no neutral; each perhaps with g2",
    "estimated_plain": "about 4 stops: n4; or no neutral",
    "estimated_several": True,
    "estimated_sure": "unsure",
    "estimated_probability": 0.6,
}
KNOWN = {"declaration": "worn", "declaration_source": "photographer", "rig": "r"}
