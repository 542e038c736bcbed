"""Documents: what is told of a record as blocks, and what makes text, PDF and SVG of them."""
