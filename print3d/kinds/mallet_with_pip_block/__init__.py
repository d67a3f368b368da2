"""Mallet orthosis with a PIP flexion block."""
