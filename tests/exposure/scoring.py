"""How well estimates hold against the truth of invented trips."""

import re

import numpy as np
import pandas as pd

from audit.exposure.estimate import add_estimate
from audit.exposure.scenes import add_scenes


def scored(trip, *, sky=False, pixels=False):
    """Truth and estimate side by side, one row a frame."""
    frames = add_scenes(trip.frames)
    out = add_estimate(frames, trip.kit, trip.sky if sky else None, trip.rendered_stops if pixels else None)
    table = trip.truth.assign(**{c: out[c] for c in out if c.startswith("estimated_")})
    table["right"] = (table["estimated_stops"] - table["neutral"]).abs() <= 0.5
    kit = trip.kit
    table["extra"] = [any(kit.filter(i).kind != "neutral" for i in worn) for worn in table["worn"]]
    said = zip(table["estimated_class"], table["worn"], strict=True)
    table["offered"] = [offered(words, worn, kit) for words, worn in said]
    return table


def offered(words, worn, kit):
    """Whether the class in words names what was worn: its neutrals' stops, and the extra that is on."""
    neutral = sum(kit.filter(i).loss_stops[0] for i in worn if kit.filter(i).kind == "neutral")
    extras = {i for i in worn if kit.filter(i).kind != "neutral"}
    for part in re.split(r"; or (?=about|no neutral)", words):
        told = re.match(r"about ([0-9.]+) stops", part)
        stops = float(told[1]) if told else 0.0
        tail = words if "; each " in words else part
        maybe = "perhaps" in tail
        on = tail.endswith("as well")
        if abs(stops - neutral) <= 0.5 and (maybe or on == bool(extras)):
            return True
    return False


def figures(table):
    """Shares over all frames that were not declared themselves, and where said over those that were too."""
    rest = table[~table["declared"]]
    held, none = rest[rest["setup_declared"]], rest[~rest["setup_declared"]]
    plain = ~table["extra"]
    wrong_sure = (table["estimated_sure"] == "sure") & ~table["right"]
    return {
        "frames": len(table),
        "right where the setup is declared in part": held["right"].mean(),
        "the same, frames without polariser or grad": held.loc[~held["extra"], "right"].mean(),
        "the same with the declared frames": table.loc[table["setup_declared"] & plain, "right"].mean(),
        "right where nothing is declared": none["right"].mean(),
        "class offered holds the truth, polariser or grad on": rest.loc[rest["extra"], "offered"].mean(),
        "class offered holds the truth, all frames": rest["offered"].mean(),
        "sure": (rest["estimated_sure"] == "sure").mean(),
        "right where sure": rest.loc[rest["estimated_sure"] == "sure", "right"].mean(),
        "confident errors": wrong_sure[~table["declared"]].mean(),
        "confident errors with the declared frames": wrong_sure.mean(),
    }


def certainty(table):
    """Stated against observed certainty."""
    rest = table[~table["declared"]]
    edges = [0, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99, 0.995, 1.0]
    group = pd.cut(rest["estimated_probability"], edges)
    said = rest.groupby(group, observed=True)
    return pd.DataFrame(
        {"frames": said.size(), "stated": said["estimated_probability"].mean(), "right": said["right"].mean()}
    )


def pooled(trips, **more):
    """All trips scored, under one another."""
    return pd.concat([scored(t, **more) for t in trips], ignore_index=True).astype(
        {"right": bool, "neutral": np.float64}
    )
