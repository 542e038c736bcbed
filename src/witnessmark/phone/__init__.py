"""The page for a phone: what it shows, who may see it, and what may come back from it."""
