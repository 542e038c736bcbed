"""What can hurt somebody who listens."""

LEVEL_CAUTION = (
    "Listen at one moderate level throughout, with pauses: a louder position only seems better, "
    "and 85 dB(A) is enough for 8 hours a day, 3 dB more for half as long (NIOSH)."
)
