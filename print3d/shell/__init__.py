"""The pattern draped on the limb: mesh and CAD solid from one definition."""
