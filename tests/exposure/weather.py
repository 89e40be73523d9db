"""Light of invented trips: the sun over the horizon, clouds that drift and open, and the place itself.

Independent of what the estimate expects: smooth curves and clouds with edges, no walk on a grid.
"""

import numpy as np

# EV100 of a landscape in clear air by the sun's altitude in degrees; a photographer's rule, from memory.
ALTITUDE_DEG = (-18, -12, -9, -6, -3, 0, 2, 5, 10, 20, 60)
CLEAR_EV100 = (-6, -4, -0.5, 3.2, 6.6, 9.6, 11.0, 12.4, 13.6, 14.5, 15.1)


class Weather:
    """Light over one day at one place. `faster` runs sun and clouds that many times as fast."""

    def __init__(self, rng, faster=1.0):
        self.latitude, self.declination = rng.uniform(0, 66), rng.uniform(-20, 23)
        self.faster = faster
        self.floor = rng.uniform(-4, 3)
        self.kind = rng.choice(["clear", "broken", "overcast"], p=[0.4, 0.4, 0.2])
        self.waves = [(rng.normal(0, 0.15), rng.uniform(4, 40), rng.uniform(0, 7)) for _ in range(4)]
        self.edges, self.depths = self._clouds(rng)
        self.edge_min = rng.uniform(0.1, 1.0)

    def _clouds(self, rng):
        """Minutes at which the clouds close and open, and what they take from there on."""
        edges, depths, at, closed = [0.0], [0.0], 0.0, False
        dwell = {"clear": 90.0, "broken": rng.uniform(3, 15), "overcast": 60.0}[self.kind]
        while at < 1440 * self.faster:
            at += rng.exponential(dwell) + 0.5
            closed = not closed
            low, high = {"clear": (0.1, 0.8), "broken": (0.7, 2.5), "overcast": (0.3, 1.0)}[self.kind]
            edges.append(at)
            depths.append(rng.uniform(low, high) if closed else 0.0)
        return np.array(edges), np.array(depths)

    def altitude_deg(self, minute):
        """Sun's altitude at a minute of the day (sun time)."""
        lat, dec = np.radians(self.latitude), np.radians(self.declination)
        hour = np.radians((minute / 60 - 12) * 15)
        sine = np.sin(lat) * np.sin(dec) + np.cos(lat) * np.cos(dec) * np.cos(hour)
        return float(np.degrees(np.arcsin(sine)))

    def minute_of(self, altitude_deg, rising):
        """Minute of the day at which the sun stands there, or noon's or midnight's nearest."""
        minutes = np.arange(0, 720) if rising else np.arange(720, 1440)
        gap = [abs(self.altitude_deg(m) - altitude_deg) for m in minutes]
        return float(minutes[int(np.argmin(gap))])

    def ev100(self, minute, anchor=None):
        """Light of the open landscape; `anchor` is the minute from which a faster day runs."""
        anchor = minute if anchor is None else anchor
        run = anchor + (minute - anchor) * self.faster
        clear = float(np.interp(self.altitude_deg(run), ALTITUDE_DEG, CLEAR_EV100))
        quick = minute * self.faster
        waves = sum(a * np.sin(2 * np.pi * quick / p + f) for a, p, f in self.waves)
        base = {"clear": 0.0, "broken": -0.3, "overcast": -2.2}[self.kind]
        light = clear + base + waves - self._cloud(quick)
        return min(max(light, self.floor), 16.5)

    def _cloud(self, quick):
        at = int(np.searchsorted(self.edges, quick, side="right")) - 1
        before, now = self.depths[max(at - 1, 0)], self.depths[at]
        share = min((quick - self.edges[at]) / self.edge_min, 1.0)
        return before + (now - before) * share
