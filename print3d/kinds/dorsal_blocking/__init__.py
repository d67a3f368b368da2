"""Dorsal blocking orthosis."""
