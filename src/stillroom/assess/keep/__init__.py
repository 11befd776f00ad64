"""How long a product keeps: what ends it first, in the pack and opened."""
