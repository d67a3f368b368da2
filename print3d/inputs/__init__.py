"""Files in, frozen and validated values out: case, measurements, options, material, printer."""
