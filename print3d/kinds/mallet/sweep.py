"""Random mallet orthoses for the sweep."""

from print3d.kinds.random_designs import Rng, Sweep, Table, degrees, one, shell


def draw(rng: Rng, size: float) -> Table:
    """Return random options."""
    return {
        "form": one(rng, "volar", "dorsal", "sleeve"),
        "dip_hyperextension_deg": degrees(rng, 0, 10),
        **shell(rng, size, is_forearm=False),
    }


SWEEP = Sweep(0.20, draw)
