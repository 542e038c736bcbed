"""Stand a pair of loudspeakers on their targets with a laser distance meter."""
