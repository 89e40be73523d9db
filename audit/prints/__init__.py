"""Which frames are printed, and how large their pixels are."""
