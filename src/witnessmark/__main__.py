"""``python -m witnessmark``."""

from witnessmark.cli import program

program()
