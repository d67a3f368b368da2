"""What to change so that a design holds."""
