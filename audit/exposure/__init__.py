"""Exposure: scenes and setups, the light and the sun, the arithmetic, and which filters were on."""
