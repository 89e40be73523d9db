"""The frame table: every column once, and what follows from its kind."""
