"""Random toy gutters."""

from print3d.kinds.random_designs import Rng, Sweep, Table


def draw(_rng: Rng, _size: float) -> Table:
    """Return the toy as it is."""
    return {}


SWEEP = Sweep(0.0, draw)
