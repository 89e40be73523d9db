"""Pixels cheaply: embedded previews, reduced decoding, raw pictures; small pictures kept between runs."""
