"""Where to begin: lanes, seat and stations, the triangle, and what stands in their way."""
