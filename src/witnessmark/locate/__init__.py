"""From shots to where the cabinets stand, how well that is known, and how to move them."""
