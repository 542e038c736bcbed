"""A room with all its history to and from one file."""
