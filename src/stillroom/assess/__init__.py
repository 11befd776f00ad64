"""What a product is worth: hazards, law, quality, and the judgement that joins them."""
