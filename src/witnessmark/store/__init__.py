"""The store: every setup, and the journal of all that a meter and a person brought, in one file.

Nothing that a person measured is ever lost: a reading is on disk before it is on screen, nothing is
overwritten or deleted, and a round is replayed from its entries.
"""
