"""All text that a clinician or a wearer reads, in every language."""
