"""Whole jobs, each in one readable function."""
