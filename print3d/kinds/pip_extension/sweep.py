"""Random PIP extension orthoses for the sweep."""

from print3d.kinds.random_designs import Rng, Sweep, Table, degrees, one, shell


def draw(rng: Rng, size: float) -> Table:
    """Return random options."""
    form = one(rng, "volar", "dorsal", "sleeve")
    angle = degrees(rng, 0, 90) if rng.random() < 0.7 else 0.0
    return {"form": form, "pip_flexion_deg": angle, **shell(rng, size, is_forearm=False)}


SWEEP = Sweep(0.24, draw)
