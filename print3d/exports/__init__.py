"""Files out: STL, 3MF, STEP, findings, pictures."""
