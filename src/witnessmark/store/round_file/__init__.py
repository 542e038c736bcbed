"""A round as a TOML or JSON file."""
