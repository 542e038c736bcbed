"""One driver a file; the program finds them through the entry-point group ``witnessmark.drivers``."""
