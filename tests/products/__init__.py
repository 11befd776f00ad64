"""Whole products measured by others, run end to end."""
