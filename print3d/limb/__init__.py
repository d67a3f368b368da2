"""From measures to a posed limb: norms, estimates, the finger."""
