"""How a part is printed: its position on the bed, its supports, layers, mass and time."""
