"""Shapes that kinds share: gutters, troughs, rings, yoke bands, and the orthosis that they make."""
