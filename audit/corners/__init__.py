"""Corner shading: what a rig cuts, by how much, how surely, and what would help."""
