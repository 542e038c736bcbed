"""Documents: each record as blocks, and what makes text, PDF and SVG of them."""
