"""The invented trip: scene by scene, what was in front of the lens and what the photographer wrote down.

Times are true local time. A scene is one composition; frames that belong together stand at most ten minutes
apart, scenes of one body at least twenty.
"""

from __future__ import annotations

from audit.demo.gear import BARE, SILENT, UNKNOWN, recessed, standard
from audit.demo.take import Scene, bracket, take

GRAD2, PLAIN3 = standard("", "g2soft"), standard("n3")
PLAIN6, PLAIN10 = standard("n6"), standard("n10")
COVERED10 = standard("n10", eyepiece_covered=True)
GUARDED3 = standard("n3", behind=("protect77",))
STEPPED3 = standard("n3", behind=("s58-77",))
UPRIGHT2 = recessed("", "g2soft", turn_deg=90)
POLARISED = standard(front="pol")
PLAIN4, EMPTY = recessed("n4"), standard()
TWO_HOLDERS = recessed("", "g3hard", second_slots=("g2soft",), second_turn_deg=30)

FIRST_DAY = (
    Scene(1, "A", "w16", 16, 11, 100, "skerries", 11, (
        take("07:10:20", BARE),
        take("07:12:05", GRAD2, "cut-16"),
        take("07:13:40", GRAD2, "cut-16"),
        take("07:16:02", GRAD2, "cut-16"),
        take("07:18:30", standard("n6", "g2soft"), "cut-16"),
        take("07:21:10", BARE),
    )),
    Scene(1, "B", "w16", 16, 11, 100, "skerries", 12, (
        take("07:28:15", BARE),
        take("07:30:10", GRAD2, "small-sensor"),
        take("07:32:20", GRAD2, "small-sensor"),
        take("07:34:40", standard("n3", "g2soft"), "small-sensor"),
    )),
    Scene(1, "A", "w16", 20, 11, 100, "tarn", 13, (
        take("07:50:05", BARE),
        take("07:52:30", recessed("", "g2soft"), "recessed-20"),
        take("07:54:00", recessed("", "g2soft"), "recessed-20"),
        take("07:57:10", recessed("n6", "g2soft"), "recessed-20", "true-sum"),
        take("07:59:45", recessed("n6", "g2soft"), "recessed-20", "true-sum"),
    )),
    Scene(1, "B", "s24", 35, 8, 100, "moor", 14, (
        take("08:10:00", BARE),
        take("08:11:30", POLARISED, "polariser"),
        take("08:12:10", POLARISED, "polariser"),
        take("08:14:50", BARE),
    )),
    Scene(1, "A", "w16", 19, 11, 100, "valley", 15, (
        take("08:30:10", BARE),
        take("08:32:00", PLAIN3, "risk-19", "true-three"),
        take("08:34:20", PLAIN3, "risk-19", "true-three"),
    )),
    Scene(1, "A", "s24", 40, 11, 100, "moor", 16, (
        take("11:58:00", BARE, "noon-ten", says=PLAIN10),
        take("11:58:40", BARE, "noon-ten", says=PLAIN10),
    )),
    Scene(1, "A", "s24", 50, 5.6, 100, "snow", 17, (
        take("12:40:00", BARE, bias=1.0),
        take("12:41:10", PLAIN3, "snow-three", "true-three", bias=1.0),
        take("12:42:30", PLAIN3, "snow-three", "true-three", bias=1.0),
    ), light_stops=0.9),
    Scene(1, "A", "s24", 70, 8, 100, "valley", 18, (
        take("13:30:00", BARE),
        take("13:31:00", BARE, "compensated", bias=1.0),
        take("13:33:20", PLAIN6, "compensated", "true-sum", bias=1.0),
        take("13:34:30", PLAIN6, "compensated", "true-sum", bias=-1.0),
    )),
    Scene(1, "A", "s24", 35, 8, 100, "moor", 19, (
        take("15:02:00", BARE, "undeclared", "gap", says=SILENT, gap=4),
        take("15:04:10", BARE, "undeclared", says=SILENT),
        take("15:09:30", BARE, "undeclared", says=SILENT),
    ), upright=True),
    Scene(1, "A", "s24", 28, 8, 100, "tarn", 20, (
        take("15:40:00", PLAIN3, "said-unknown", says=UNKNOWN),
        take("15:42:20", BARE, "said-unknown", says=UNKNOWN),
    )),
    Scene(1, "B", "m24", 24, 8, 100, "valley", 21, (
        take("17:30:00", BARE, "no-contacts", "kit-clock"),
        take("17:32:10", STEPPED3, "no-contacts", "kit-clock"),
        take("17:33:50", STEPPED3, "no-contacts", "kit-clock"),
    )),
    Scene(1, "A", "s24", 45, 8, 100, "valley", 22, (
        take("17:25:00", BARE, "said-bare", "no-f-number", odd="f-zero"),
        take("17:27:00", BARE, "said-bare", "no-time-value", odd="time-infinite"),
        take("17:35:00", BARE, "said-bare"),
    )),
    Scene(1, "A", "w16", 22, 11, 100, "skerries", 23, (
        take("18:50:00", BARE, "dusk"),
        take("18:55:20", PLAIN3, "rule-22", "dusk", "true-three"),
        take("19:01:00", PLAIN6, "rule-22", "dusk"),
        take("19:06:30", PLAIN6, "rule-22", "dusk"),
    )),
)  # fmt: skip

SECOND_DAY = (
    Scene(2, "B", "s24", 28, 8, 200, "tarn", 31, (
        take("06:34:00", BARE),
        take("06:36:10", recessed("old3"), "slip-density"),
        take("06:38:20", recessed("old3"), "slip-density"),
        take("06:40:00", BARE, "kit-clock"),
    )),
    Scene(2, "A", "w16", 21, 11, 100, "skerries", 32, (
        take("06:50:10", BARE),
        take("06:52:00", recessed("n6"), "recessed-20", "true-sum"),
        take("06:54:00", recessed("n10"), "recessed-20", "bulb", "warm", shutter_s=247.0),
        take("07:00:40", recessed("n6"), "recessed-20", "true-sum", "raw-alone", odd="raw-only"),
    ), raw=True),
    Scene(2, "A", "s24", 40, 8, 100, "valley", 48, (
        take("08:00:00", BARE),
        take("08:01:10", PLAIN4, "off-label"),
        take("08:02:20", PLAIN4, "off-label"),
        take("08:03:30", BARE),
    ), light_stops=-1.0, raw=True),
    Scene(2, "A", "s24", 35, 11, 100, "moor", 33, (
        take("10:00:00", BARE),
        take("10:02:00", standard("n6", "g2soft"), "forgotten", says=GRAD2),
        take("10:03:10", standard("n6", "g2soft"), "forgotten", says=GRAD2),
    ), light_stops=-1.5, raw=True),
    Scene(2, "B", "s24", 50, 8, 100, "snow", 34, (
        take("11:00:00", BARE, "kit-clock", bias=1.0),
        take("11:02:00", recessed("dusk6"), "slip-stops", bias=1.0),
        take("11:03:30", recessed("dusk6"), "slip-stops", bias=1.0),
    ), light_stops=-1.2),
    Scene(2, "A", "w16", 24, 11, 100, "valley", 35, (
        take("13:00:00", BARE),
        *bracket("13:02:10", recessed("", "g3hard"), "grad-bracket"),
        *bracket("13:05:30", recessed("", "g3hard"), "grad-bracket"),
    ), light_stops=-2.4, raw=True),
    Scene(2, "B", "s24", 70, 8, 100, "valley", 36, (
        take("13:40:10", BARE, "burst", "said-bare", sub_second=12),
        take("13:40:10", BARE, "burst", "said-bare", sub_second=54),
        take("13:40:10", BARE, "burst", "said-bare", sub_second=93),
    ), upright=True),
    Scene(2, "A", "w16", 17, 11, 100, "moor", 49, (
        take("15:00:00", BARE, "truly-bare"),
        take("15:01:10", EMPTY, "ring-left", says=BARE),
        take("15:02:30", BARE, "truly-bare"),
    ), raw=True),
    Scene(2, "A", "w16", 17, 11, 100, "valley", 50, (
        take("15:40:00", BARE),
        take("15:41:10", BARE, "not-mounted", says=EMPTY),
        take("15:42:20", BARE, "truly-bare"),
    ), light_stops=-1.0, raw=True),
    Scene(2, "B", "s24", 35, 8, 100, "snow", 51, (
        take("15:20:00", BARE, "blown", bias=2.7),
    ), light_stops=-1.0),
    Scene(2, "A", "s24", 35, 8, 100, "tarn", 37, (
        take("19:06:00", BARE),
        take("19:08:10", BARE, "not-on", says=PLAIN6),
        take("19:10:20", BARE, "not-on", says=PLAIN6),
    ), raw=True),
    Scene(2, "A", "s24", 30, 5.6, 100, "moor", 52, (
        *bracket("19:32:00", BARE, "whole-bracket"),
        *bracket("19:34:30", BARE, "half-bracket")[:2],
    ), raw=True),
)  # fmt: skip

THIRD_DAY = (
    Scene(3, "A", "w16", 17, 11, 100, "valley", 41, (
        take("17:00:00", BARE),
        take("17:02:00", GUARDED3, "cut-17"),
        take("17:03:20", GUARDED3, "cut-17"),
        take("17:05:10", standard("n3", "g2soft", behind=("protect77",)), "cut-17"),
    )),
    Scene(3, "B", "s24", 24, 8, 100, "moor", 42, (
        take("17:12:00", BARE, "hour-off"),
        take("17:13:40", GRAD2, "small-sensor", "hour-off"),
        take("17:15:20", GRAD2, "small-sensor", "hour-off"),
    )),
    Scene(3, "A", "s24", 50, 8, 100, "tarn", 43, (
        take("17:26:00", BARE),
        take("17:28:10", TWO_HOLDERS, "two-holders"),
        take("17:29:30", TWO_HOLDERS, "two-holders"),
    )),
    Scene(3, "B", "s24", 40, 8, 100, "skerries", 44, (
        take("17:38:00", BARE, "hour-off"),
        take("17:39:10", BARE, "no-date", odd="no-time"),
        take("17:40:20", BARE, "zero-date", odd="zero-time"),
        take("17:42:00", BARE, "hour-off", "timeless-before"),
    )),
    Scene(3, "A", "m24", 24, 8, 100, "snow", 45, (
        take("17:52:00", BARE, "no-contacts", bias=1.0),
        take("17:53:30", STEPPED3, "risk-24", "no-contacts", bias=1.0),
        take("17:55:00", STEPPED3, "risk-24", "no-contacts", bias=1.0),
    )),
    Scene(3, "A", "w16", 28, 8, 200, "skerries", 46, (
        take("18:20:00", UPRIGHT2, "turned"),
        take("18:21:30", UPRIGHT2, "torn", odd="torn"),
        take("18:22:40", UPRIGHT2, "blank", odd="blank"),
        take("18:24:00", UPRIGHT2, "turned", "unread-before"),
    ), upright=True),
)  # fmt: skip

FOURTH_DAY = (
    Scene(4, "A", "s24", 50, 8, 100, "valley", 61, (
        take("11:00:00", BARE),
        take("11:01:10", PLAIN3, "left-out", shutter_s=1 / 400),
        take("11:02:20", BARE, "high-key", bias=2.0),
    )),
    Scene(4, "B", "s24", 28, 11, 100, "valley", 62, (
        take("11:30:00", BARE, "f-11"),
        take("11:31:10", BARE, "f-22", f_number=22),
    ), enlarged=3),
    Scene(4, "A", "s24", 35, 8, 100, "moor", 63, (
        take("12:00:00", BARE),
        take("12:01:00", PLAIN10, "true-ten", "warm"),
        take("12:02:00", PLAIN10, "true-ten", "warm", "f-16", f_number=16),
    ), reduced=2),
    Scene(4, "A", "s24", 45, 8, 100, "tarn", 64, (
        take("12:24:00", PLAIN10, "left-on", says=BARE),
        take("12:25:10", PLAIN10, "left-on", says=BARE),
    )),
    Scene(4, "A", "s24", 28, 8, 100, "skerries", 65, (
        take("13:30:00", BARE, "clouds", shutter_s=1 / 200),
        take("13:35:00", BARE, "clouds", shutter_s=1 / 200, light=1.0),
    ), light_stops=-1.2),
    Scene(4, "A", "s24", 35, 8, 100, "moor", 71, (
        take("14:30:00", BARE),
        take("14:31:00", BARE, "flash", odd="flash", shutter_s=1 / 1600, light=2.2),
        take("14:32:30", BARE, "composite", odd="composite", shutter_s=1 / 1600, light=2.2),
        take("14:34:00", BARE, "silhouette", bias=-2.0),
    )),
    Scene(4, "B", "s24", 35, 8, 100, "tarn", 66, (
        take("14:10:00", PLAIN6, "in-passing"),
    )),
    Scene(4, "B", "s24", 24, 11, 100, "skerries", 67, (
        take("18:15:00", BARE),
        take("18:16:00", PLAIN10, "open-eyepiece", "sum-right", "warm", shutter_s=165.0),
        take("18:21:00", COVERED10, "covered", "sum-right", "warm", shutter_s=165.0),
    ), light_stops=-2.0),
    Scene(4, "A", "w16", 28, 11, 100, "skerries", 68, (
        take("18:40:00", BARE),
        take("18:41:00", PLAIN6, "trial", iso=800),
        take("18:41:40", PLAIN6, "iso-left", iso=800, shutter_s=5.0),
        take("18:42:30", PLAIN6, "iso-back"),
    )),
    Scene(4, "A", "s24", 40, 8, 100, "tarn", 69, (
        take("19:06:00", BARE),
        take("19:07:00", PLAIN10, "reckoned-short", shutter_s=33.0),
    )),
    Scene(4, "A", "s24", 50, 8, 100, "skerries", 70, (
        take("19:40:00", BARE, "held", shutter_s=1.0),
        take("19:46:30", BARE, "held", shutter_s=1.0),
        take("19:53:00", BARE, "held", shutter_s=1.0),
    )),
    Scene(4, "A", "s24", 24, 2.8, 1600, "skerries", 72, (
        take("22:30:00", BARE, "moonlight"),
        take("22:31:10", BARE, "moonlight"),
    )),
)  # fmt: skip

TRIP = (*FIRST_DAY, *SECOND_DAY, *THIRD_DAY, *FOURTH_DAY)
