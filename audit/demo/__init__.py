"""An invented trip with a known truth: pictures, kit and declarations with planted mistakes."""

from audit.demo.trip import write_trip

__all__ = ["write_trip"]
