"""Figure-of-eight ring."""
