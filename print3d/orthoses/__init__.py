"""One file per kind of orthosis."""
