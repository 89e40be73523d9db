"""Optics and exposure: pure functions on numbers and arrays.

The docstrings have one shape. Each parameter, attribute and result ends in its unit in square brackets:
`[1]` is a number without a unit, `[-]` no number at all (a name, a switch, an object that tells its own
units). "Any shape" is a number or an array; several of them broadcast. "Source" says who published the
formula, or that nobody did.
"""
