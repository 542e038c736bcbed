"""Positions that are listened to in order: the walk, and what the person said of them."""
