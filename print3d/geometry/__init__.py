"""Frames, sections, spline surfaces, triangulation: arrays only."""
