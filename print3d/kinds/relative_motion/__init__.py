"""Relative motion orthosis."""
