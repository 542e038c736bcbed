"""What the room does to a pair where it stands: the arithmetic of ``sound`` put to a setup."""
