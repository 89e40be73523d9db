"""XMP sidecars: what is known of a frame, beside its pictures, in a form that other programs read."""
