"""Room acoustics of a pair: formulas, and what they say of a setup."""
