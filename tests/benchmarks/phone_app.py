"""The program with its page for phones on loopback, where a browser of this computer finds it."""

from __future__ import annotations

import sys

from witnessmark.app.screens import phone
from witnessmark.cli import main

if __name__ == "__main__":
    phone.own_addresses = lambda: ["127.0.0.1"]
    main(sys.argv[1:])
