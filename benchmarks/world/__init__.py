"""A second world of landscape trips, written without a look at the estimate that it tests."""

from benchmarks.world.trip import DECLARED, KINDS, Slip, WorldTrip, trip

__all__ = ["DECLARED", "KINDS", "Slip", "WorldTrip", "trip"]
