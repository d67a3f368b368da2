"""Parts as STL, 3MF and STEP files."""
