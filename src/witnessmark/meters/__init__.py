"""The port that every driver fills, addresses, finding a driver, and watching a meter."""
