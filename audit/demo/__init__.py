"""An invented trip with a known truth: pictures, kit and declarations with planted mistakes."""

from audit.demo.trip import trip_files, write_trip

__all__ = ["trip_files", "write_trip"]
