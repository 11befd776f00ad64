"""Pure functions on arrays: equations with their sources, no tables, no products."""
