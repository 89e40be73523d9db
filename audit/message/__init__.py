"""Sentences as data, numbers in figures, and names as they may be shown."""
