"""Engines under the checks: contact, loads, zones of bearing, beams, finite elements, inscribed spheres."""
