"""Mallet orthosis."""
