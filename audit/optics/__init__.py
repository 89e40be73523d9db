"""Optics and exposure: pure functions on numbers and arrays."""
