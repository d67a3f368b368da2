"""Random dorsal blocking orthoses for the sweep; most go to a large printer."""

from print3d.forms.protocols import SHIPPED
from print3d.inputs.measured import FINGERS
from print3d.inputs.toml_file import read_toml
from print3d.kinds.random_designs import Rng, Sweep, Table, between, degrees, one, shell, some


def draw(rng: Rng, size: float) -> Table:
    """Return random options: a regimen, or angles of their own."""
    options = shell(rng, size, is_forearm=True)
    if rng.random() < 0.3:
        return options | {"protocol": str(rng.choice(list(read_toml(SHIPPED))))}
    mcp = degrees(rng, 20, 80)
    options["mcp_flexion_deg"] = mcp
    own = {"beyond_tips_mm": between(rng, 5.0, 15.0), "ip_flexion_deg": degrees(rng, 0, 10)}
    options |= some(rng, own, 0.3)
    if rng.random() < 0.2:
        name = str(rng.choice(FINGERS))
        options[f"{name}_mcp_flexion_deg"] = min(90.0, mcp + degrees(rng, 0, 15))
    return options | ({"form": "hand"} if rng.random() < 0.35 else _wrist(rng))


def _wrist(rng: Rng) -> Table:
    wrist: Table = {one(rng, "wrist_flexion_deg", "wrist_extension_deg"): degrees(rng, 0, 45)}
    if rng.random() < 0.3:
        wrist |= one(
            rng,
            {"wrist_ulnar_deviation_deg": degrees(rng, 1, 20)},
            {"wrist_radial_deviation_deg": degrees(rng, 1, 10)},
        )
    if rng.random() < 0.2:
        wrist["wrist_ribs"] = {"count": int(rng.integers(1, 4))}
    return wrist


SWEEP = Sweep(0.08, draw, large_printer_share=0.8)
"""A forearm costs some five times a finger."""
