"""Random fingertip covers for the sweep; most of all bodies, so that a few of them are enough for a test."""

from print3d.kinds.random_designs import Rng, Sweep, Table, one, shell


def draw(rng: Rng, size: float) -> Table:
    """Return random options."""
    return {"sturdiness": one(rng, "light", "sturdy"), **shell(rng, size, is_forearm=False)}


SWEEP = Sweep(100.0, draw)
