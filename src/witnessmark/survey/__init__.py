"""The room from a few distances: its corners, how square it is, what to measure next."""
