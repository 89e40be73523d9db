"""One audit on many machines: what is done file by file goes to workers, what needs the trip is done here."""
