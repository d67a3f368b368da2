"""Every word that people read, one folder for each language."""
