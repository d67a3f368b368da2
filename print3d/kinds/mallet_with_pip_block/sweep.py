"""Random mallet orthoses with a PIP block for the sweep."""

from print3d.kinds.random_designs import Rng, Sweep, Table, band, degrees, one, shell

RING_KEYS = ("wall_mm", "rim_radius_mm", "clearance_mm", "band_width_mm")


def draw(rng: Rng, size: float) -> Table:
    """Return random options."""
    options: Table = {
        "pieces": one(rng, "one", "two"),
        "dip_hyperextension_deg": degrees(rng, 0, 10),
        "pip_flexion_deg": degrees(rng, 10, 45),
        **shell(rng, size, is_forearm=False),
    }
    if options["pieces"] == "two" and rng.random() < 0.5:
        ring = band(rng, (3.0, 6.0))
        options["ring"] = {key: ring[key] for key in RING_KEYS if key in ring}
    return options


SWEEP = Sweep(0.18, draw)
