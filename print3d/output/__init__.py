"""Everything that is written for people and for other programs."""
