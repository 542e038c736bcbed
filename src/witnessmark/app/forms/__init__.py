"""What a screen asks for: fields, and forms of them that are data bound to a record."""
