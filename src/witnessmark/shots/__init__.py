"""Which shots to take: what each would tell, the best few, and what more would help."""
