"""What screens ask for: fields, and forms that are data bound to a record."""
