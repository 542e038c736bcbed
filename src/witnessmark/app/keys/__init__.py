"""The keys of the program, by where they do something: one list to a kind of place."""
