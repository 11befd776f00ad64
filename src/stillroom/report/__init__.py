"""The judgement made readable: content first, then text from it."""
