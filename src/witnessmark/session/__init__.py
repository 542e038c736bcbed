"""One evening without a screen: the open room, its round, the meter, and the phones."""
