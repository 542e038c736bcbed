"""What is drawn of a room and its pair, as strokes and labels for any renderer: screen or paper."""
