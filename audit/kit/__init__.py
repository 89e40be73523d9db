"""The gear as kit.toml declares it: read, judged, written, and matched with what EXIF names."""
