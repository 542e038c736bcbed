"""The live flow: which shot a reading is, what the shots say, and what to do next."""
