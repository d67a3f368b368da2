"""Wrist trough: a toy."""
