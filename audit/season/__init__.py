"""Many archives as one: what was carried and worn, what cut, what drifts, what was lost."""
