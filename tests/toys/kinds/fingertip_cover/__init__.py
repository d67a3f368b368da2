"""Fingertip cover: a toy."""
