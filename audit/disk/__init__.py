"""What is written to the disk: whole or not at all, and taken away again only where it is ours."""
