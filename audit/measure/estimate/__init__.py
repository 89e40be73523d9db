"""Which filters were on, estimated from the exposures of the whole trip."""

from audit.measure.estimate.estimate import add_estimate

__all__ = ["add_estimate"]
