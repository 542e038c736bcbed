"""The geometry of a pair in a room: numbers in, numbers out, no input or output of its own."""
