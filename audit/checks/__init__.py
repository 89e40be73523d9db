"""One check a module: why (the docstring), ID, TITLE, THRESHOLD, SOURCE, ADVICE, NEEDS and find(frames)."""
