"""From judging a product to planning one: ways compared."""
