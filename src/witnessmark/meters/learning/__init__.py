"""Working out how a meter's bytes are distances, from readings at distances that are known.

Every decoding that is known here is tried: text with or without a unit; whole numbers of two to
four bytes and binary fractions, in either order, at any offset; in mm, cm, m, in and ft and decimal
parts of them. What explains every reading within the tape's tolerance is kept. A wrong decoding is
worse than none, so where several are left one more reading is asked for, and what was never seen is
not believed later: bytes that did not change have to stay, and numbers longer than was shown are
refused where it matters.
"""
