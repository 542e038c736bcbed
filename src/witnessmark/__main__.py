"""``python -m witnessmark``."""

from witnessmark.cli import main

main()
