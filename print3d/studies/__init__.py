"""Choosing and comparing: variants side by side, and how surely an orthosis fits."""
