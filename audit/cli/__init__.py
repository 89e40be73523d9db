"""The command line: one file a command; commands parse, call the library once, and print."""
