"""Which stops the marks of some neutrals may mean, and the times that each reading makes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from audit.kit.kit import Filter, Kit, ScrewIn
from audit.message.duration import duration
from audit.message.text import figure, joined, say
from audit.optics.density import density_from_stops, stops_from_density, trade_stops
from audit.optics.exposure import compensated_time_s

TRADE_DENSITY = 0.3
"""Density that the trade counts as one stop."""
SAME_S = 0.02
"""Times that differ by less than this fraction are told once."""


@dataclass(frozen=True)
class Readings:
    """`trade` as the trade counts stops (density by 0.3 a stop), `exact` by the density itself."""

    trade: float
    exact: float

    def words(self, start_s: float, more: tuple[float, float], start_words: str) -> str:
        """'1/4 s and 10 stops make 4 min 16 s; density 3.0, 9.97 stops, makes 4 min 10 s'.

        `more` are the least and most stops of what else was worn: a polariser, grads.
        """
        low, high = self.trade + more[0], self.trade + more[1]
        times = [duration(compensated_time_s(start_s, stops)) for stops in (low, high)]
        if high > low:
            return say(
                "{start} and {least:.3g} to {most:.3g} stops make {shortest} to {longest}",
                start=start_words,
                least=low,
                most=high,
                shortest=times[0],
                longest=times[1],
            )
        said = say("{start} and {stops:.3g} stops make {time}", start=start_words, stops=low, time=times[0])
        exact = self.exact + more[0]
        if abs(2 ** (exact - low) - 1) < SAME_S or more[0] > 0:
            return said
        density = figure(f"{density_from_stops(exact):.2f}".removesuffix("0"))
        time = duration(compensated_time_s(start_s, exact))
        by_density = say(
            "density {density}, {stops:.2f} stops, makes {time}", density=density, stops=exact, time=time
        )
        return joined([said, by_density])

    def beyond(self, stops: float, more: tuple[float, float]) -> float:
        """How far some stops lie above (+) or below (-) every reading; 0 between them."""
        low, high = min(self.trade, self.exact) + more[0], max(self.trade, self.exact) + more[1]
        return max(0.0, stops - high) - max(0.0, low - stops)


def readings(filters: Iterable[str], kit: Kit) -> Readings:
    """The readings of the marks of the neutrals among some filters (ids)."""
    parts = [kit.filter(name) or kit.between(name) for name in filters]
    both = [_both(p) for p in parts if isinstance(p, Filter | ScrewIn) and p.kind in ("neutral", "other")]
    return Readings(float(sum(trade for trade, _ in both)), float(sum(exact for _, exact in both)))


def _both(part: Filter | ScrewIn) -> tuple[float, float]:
    """Stops by the trade and by the density of one filter, whichever of the two it is marked in."""
    if part.density is not None:
        return float(trade_stops(part.density)), part.loss_stops[0]
    if part.factor is not None:
        return round(3 * part.loss_stops[0]) / 3, part.loss_stops[0]
    stops = part.loss_stops[0]
    return stops, float(stops_from_density(TRADE_DENSITY * stops))
