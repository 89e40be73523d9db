"""Files in TOML that the photographer writes: read with line numbers, changed with comments kept."""
