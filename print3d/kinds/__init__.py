"""One folder for each kind of orthosis."""
