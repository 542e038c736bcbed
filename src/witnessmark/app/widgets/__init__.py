"""The small widgets that the screens are made of."""
