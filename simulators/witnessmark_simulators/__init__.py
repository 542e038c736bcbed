"""A room that answers like a real one, meters in it, and the hands that nudge."""
