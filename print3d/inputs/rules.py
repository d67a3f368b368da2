"""What one table of a case must not say against another: prescribed angle against measured joint, override, material."""

from collections.abc import Iterator, Mapping
from typing import Any

from print3d.inputs.materials import Material, Printer
from print3d.inputs.options import OrthosisOptions, guards
from print3d.inputs.problems import Problem, unknown_name
from print3d.inputs.table import Given

MEASURING_ERROR_DEG = 5.0
"""Standard error of a goniometer at finger joints is 2.4 to 4.9 degrees (Macionis 2013, BMC Musculoskelet Disord 14:17);
an angle is called impossible only beyond that."""


def joint_problems(given: Given) -> Iterator[Problem]:
    """Yield prescribed angles that the measured joint cannot take.

    Every kind that holds a joint names its angle in the same way, so the rules hold for all of them.
    """
    finger = given.get("case.finger")
    pip, dip = "orthosis.pip_flexion_deg", "orthosis.dip_hyperextension_deg"
    measured = f"measured.{finger}"
    yield from _beyond(given, pip, f"{measured}.pip_passive_extension_deficit_deg", at_least=True)
    yield from _beyond(given, pip, f"{measured}.pip_max_flexion_deg", at_least=False)
    yield from _beyond(given, dip, f"{measured}.dip_passive_hyperextension_deg", at_least=False)


def _beyond(given: Given, key: str, limit_key: str, *, at_least: bool) -> Iterator[Problem]:
    angle, limit = given.get(key), given.get(limit_key)
    if angle is None or limit is None:
        return
    excess = limit - angle if at_least else angle - limit
    if excess > MEASURING_ERROR_DEG:
        wanted = f"the joint allows {'at least' if at_least else 'at most'} {limit:g} degrees ({limit_key})"
        slack = f"give that angle, or one within the measuring error of {MEASURING_ERROR_DEG:g} degrees"
        yield Problem(key, angle, f"{wanted}; {slack}")


def override_problems(given: Given, options: type[OrthosisOptions] | None) -> Iterator[Problem]:
    """Yield numbers that need an override they do not have, and overrides that nothing needs."""
    guarded = dict(guards(options)) if options is not None else {}
    allowed = given.get("override.allow") or ()
    for name, guard in guarded.items():
        value = given.get(f"orthosis.{name}")
        if value is not None and value > guard.above and guard.override not in allowed:
            wanted = f'at most {guard.above:g} without [override] allow = ["{guard.override}"] and a reason'
            yield Problem(f"orthosis.{name}", value, f"{wanted}; {guard.because}")
    known = {guard.override for guard in guarded.values()}
    for number, name in enumerate(allowed if options is not None else ()):
        if name not in known:
            yield unknown_name(f"override.allow[{number}]", name, "override of this kind", known)


def print_problems(
    given: Given, materials: Mapping[str, Material], printers: Mapping[str, Printer]
) -> Iterator[Problem]:
    """Yield names that are not on the shelf, and a material that its printer cannot print."""
    names = given.get("print.material"), given.get("print.printer")
    shelves: tuple[tuple[str, Mapping[str, Any]], ...] = (("material", materials), ("printer", printers))
    for name, (what, shelf) in zip(names, shelves, strict=True):
        if name is not None and name not in shelf:
            yield unknown_name(f"print.{what}", name, what, shelf)
    material, printer = materials.get(str(names[0])), printers.get(str(names[1]))
    if material is None or printer is None or printer.process in material.processes:
        return
    fitting = ", ".join(f'"{name}"' for name, each in printers.items() if each.process in material.processes)
    wanted = f"prints by {printer.process}, {names[0]} needs {' or '.join(material.processes)}"
    yield Problem("print.printer", names[1], f"{wanted}: {fitting or 'no known printer does that'}")
