"""Random wrist troughs for the sweep; few, as a forearm costs some five times a finger."""

from print3d.kinds.random_designs import Rng, Sweep, Table, degrees, shell


def draw(rng: Rng, size: float) -> Table:
    """Return random options."""
    return {"wrist_extension_deg": degrees(rng, 0, 40), **shell(rng, size, is_forearm=True)}


SWEEP = Sweep(0.02, draw, large_printer_share=0.8)
