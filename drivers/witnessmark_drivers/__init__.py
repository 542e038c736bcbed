"""One driver a file, found through the entry-point group ``witnessmark.drivers``."""
