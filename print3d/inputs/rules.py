"""What one table of a case must not say against another: prescribed angle against measured joint, override, material."""

from collections.abc import Iterator, Mapping, Sequence

from print3d.inputs.materials import Material, Printer
from print3d.inputs.measured import FINGERS, FingerName, with_finger
from print3d.inputs.options import OrthosisOptions, guards
from print3d.inputs.problems import MISSING, Problem, either, unknown_name
from print3d.inputs.table import GivenValues
from print3d.language.message import message

MEASURING_ERROR_DEG = 5.0
"""Standard error of a goniometer at finger joints is 2.4 to 4.9 degrees (Macionis 2013, BMC Musculoskelet Disord 14:17): an angle
this near to what the joint gives may lie past it."""
PAST_PASSIVE = "past_passive"
"""Name by which [override] lets an angle lie past what the joint gives."""


def joint_problems(given: GivenValues) -> Iterator[Problem]:
    """Yield prescribed angles that the measured joint cannot take, unless the prescriber allows that.

    Every kind that holds or stops a joint names its angle in the same way, so the rules hold for all of them.
    """
    if PAST_PASSIVE in (given.get("override.allow") or ()):
        return
    measured = f"measured.{given.get('case.finger')}"
    pip, dip, ip = "pip_flexion_deg", "dip_hyperextension_deg", "ip_flexion_deg"
    yield from _beyond(given, pip, f"{measured}.pip_passive_extension_deficit_deg", at_least=True)
    yield from _beyond(given, pip, f"{measured}.pip_max_flexion_deg", at_least=False)
    yield from _beyond(given, dip, f"{measured}.dip_passive_hyperextension_deg", at_least=False)
    for finger in FINGERS:
        own = f"{finger}_mcp_flexion_deg"
        mcp = own if given.get(f"orthosis.{own}") is not None else "mcp_flexion_deg"
        yield from _beyond(given, mcp, f"measured.{finger}.mcp_max_flexion_deg", at_least=False)
        for joint in ("pip", "dip"):
            yield from _beyond(given, ip, f"measured.{finger}.{joint}_max_flexion_deg", at_least=False)


def unmeasured_problems(
    raw: Mapping[str, object], finger: FingerName, encircled: Sequence[FingerName]
) -> Iterator[Problem]:
    """Yield a problem for each finger that an orthosis goes around and that nobody measured.

    raw : the table [measured] as it stands in the file; what is misspelt there is another problem
    finger : of the case; where the measures are another finger's, that is said
    """
    sized = [name for name in FINGERS if _has_sizes(raw.get(name))]
    for name in encircled:
        if name in sized:
            continue
        if name == finger and len(sized) > 0 and not set(sized) & set(encircled):
            found = ", ".join(f"[measured.{each}]" for each in sized)
            wanted = message("refusals.rules.other_finger", found=found, finger=name, one_of=sized)
            yield Problem("case.finger", name, wanted)
        else:
            wanted = message("refusals.rules.not_measured", finger=message(f"common.finger.{name}"))
            yield Problem(f"measured.{name}", MISSING, wanted)


def other_finger_problems(raw: Mapping[str, object], finger: FingerName) -> Iterator[Problem]:
    """Yield the same problem where a finger may stay unmeasured, but not because another one was."""
    if any(_has_sizes(raw.get(name)) for name in FINGERS):
        yield from unmeasured_problems(raw, finger, [finger])


def _has_sizes(table: object) -> bool:
    """Whether a finger's table holds more than angles; what is no table is another problem."""
    if not isinstance(table, Mapping):
        return table is not None
    return any(not str(key).endswith("_deg") for key in table)


def confirmed_problems(given: GivenValues) -> Iterator[Problem]:
    """Yield confirmed measures that are not among those given."""
    finger = given.get("case.finger")
    known = [
        key.removeprefix("measured.")
        for key, value in given.items()
        if key.startswith("measured.") and key.endswith("_mm") and value is not None
    ]
    for number, name in enumerate(given.get("measured.confirmed") or ()):
        if finger is not None and with_finger(name, finger) not in known:
            what = message("refusals.no_such.confirmed")
            yield unknown_name(f"measured.confirmed[{number}]", name, what, known)


def _beyond(given: GivenValues, option: str, limit_key: str, *, at_least: bool) -> Iterator[Problem]:
    key = f"orthosis.{option}"
    angle, limit = given.get(key), given.get(limit_key)
    if angle is None or limit is None or (angle >= limit if at_least else angle <= limit):
        return
    way = (
        message("refusals.rules.at_least", least=limit)
        if at_least
        else message("refusals.rules.at_most", most=limit)
    )
    wanted = message("refusals.rules.joint_allows", way=way, limit_key=limit_key, override=PAST_PASSIVE)
    yield Problem(key, angle, wanted)


def protected_problems(given: GivenValues, options: type[OrthosisOptions] | None) -> Iterator[Problem]:
    """Yield an answer to whether it protects, where the kind decides and decides otherwise."""
    asked = given.get("case.protected")
    if asked is None or options is None or options.protects == "by_case":
        return
    # guard: a protected orthosis is never said not to be
    if asked != (options.protects == "always"):
        kind = options.model_fields["kind"].default
        wanted = (
            message("refusals.rules.protects_never", kind=kind)
            if asked
            else message("refusals.rules.protects_always", kind=kind)
        )
        yield Problem("case.protected", asked, wanted)


def spell_problems(given: GivenValues, options: type[OrthosisOptions] | None) -> Iterator[Problem]:
    """Yield spells of wear asked for an orthosis whose wearer never takes it off alone."""
    at_once = given.get("orthosis.wear_hours_at_once")
    if at_once is None or options is None or options.protects == "never":
        return
    # guard: what heals is never let go for the sake of the skin
    if options.protects == "always":
        yield Problem("orthosis.wear_hours_at_once", at_once, message("refusals.rules.spells_always"))
    elif given.get("case.protected") is not False:
        yield Problem("orthosis.wear_hours_at_once", at_once, message("refusals.rules.spells_by_case"))


def override_problems(given: GivenValues, options: type[OrthosisOptions] | None) -> Iterator[Problem]:
    """Yield numbers that need an override they do not have, and overrides that nothing needs."""
    guarded = dict(guards(options)) if options is not None else {}
    allowed = given.get("override.allow") or ()
    for name, guard in guarded.items():
        value = given.get(f"orthosis.{name}")
        if value is not None and value > guard.above and guard.override not in allowed:
            wanted = message(
                "refusals.rules.guarded", most=guard.above, override=guard.override, because=guard.because
            )
            yield Problem(f"orthosis.{name}", value, wanted)
    known = {PAST_PASSIVE, *(guard.override for guard in guarded.values())}
    for number, name in enumerate(allowed if options is not None else ()):
        if name not in known:
            yield unknown_name(f"override.allow[{number}]", name, message("refusals.no_such.override"), known)


def print_problems(
    given: GivenValues, materials: Mapping[str, Material], printers: Mapping[str, Printer]
) -> Iterator[Problem]:
    """Yield names that are not known, and a material that its printer cannot print."""
    asked, by = given.get("print.material"), given.get("print.printer")
    if asked is not None and asked not in materials:
        yield unknown_name("print.material", asked, message("refusals.no_such.material"), materials)
    if by is not None and by not in printers:
        yield unknown_name("print.printer", by, message("refusals.no_such.printer"), printers)
    material, printer = materials.get(str(asked)), printers.get(str(by))
    if material is None or printer is None or printer.process in material.processes:
        return
    fitting = [name for name, each in printers.items() if each.process in material.processes]
    listed = ", ".join(f'"{name}"' for name in fitting)
    wanted = message(
        "refusals.rules.process",
        process=message(f"common.process.{printer.process}"),
        material=asked,
        needed=either([message(f"common.process.{each}") for each in material.processes]),
        fitting=listed or message("refusals.rules.no_printer"),
        one_of=fitting,
    )
    yield Problem("print.printer", by, wanted)
