"""Random relative motion orthoses for the sweep."""

from print3d.kinds.random_designs import Rng, Sweep, Table, band, degrees, one


def draw(rng: Rng, _size: float) -> Table:
    """Return random options."""
    return {
        "injured_finger": one(rng, "more_extended", "more_flexed"),
        "fingers": one(rng, "three", "four"),
        "mcp_difference_deg": degrees(rng, 10, 30),
        "neighbour_mcp_flexion_deg": degrees(rng, 0, 60),
        **band(rng, (6.0, 14.0)),
    }


SWEEP = Sweep(0.14, draw)
