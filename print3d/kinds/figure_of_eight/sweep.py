"""Random figure-of-eight rings for the sweep."""

from print3d.kinds.random_designs import Rng, Sweep, Table, band, between, degrees, one


def draw(rng: Rng, _size: float) -> Table:
    """Return random options."""
    lever = {"lever_mm": between(rng, 7.0, 14.0)} if rng.random() < 0.2 else {}
    return {
        "blocks": one(rng, "extension", "flexion"),
        "pip_flexion_deg": degrees(rng, 0, 45),
        **band(rng, (3.0, 8.0)),
        **lever,
    }


SWEEP = Sweep(0.16, draw)
