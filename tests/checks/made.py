"""Findings made up for tests: real keys, whose words are in the catalogue, with numbers that nobody measured."""

from typing import Any

from print3d.checks.finding import Finding, Sense, about, values
from print3d.forms.orthosis import part_name
from print3d.language.message import as_it_stands, message

PART = "volar_pip_orthosis"


def made(
    key: str,
    measured: float,
    limit: float | tuple[float, float],
    unit: str = "mm",
    sense: Sense = "at least",
    **more: Any,
) -> Finding:
    """Return a finding about a part; `source` and `how` are taken as they stand, `where` and `watch` too, all else fills its words."""
    part, source = more.pop("part", PART), as_it_stands(more.pop("source", "own choice"))
    how, where, watch = (
        as_it_stands(more.pop("how", "by hand")),
        more.pop("where", None),
        more.pop("watch", None),
    )
    said = values(part=part_name(part), **more)
    return Finding(key, measured, limit, unit, sense, source, about(part), said, (how,), watch, where)


def pressed(measured: float = 5.33, limit: float = 10.0, *, watch: float | None = 4.27) -> Finding:
    """Return the pressure on the volar side of a proximal phalanx at rest, 40 mmHg by its words."""
    zone = message("mechanics.side.volar", bone=message("common.segment.proximal"))
    names = {"joint": message("common.joint.pip"), "load": message("common.load.at_rest"), "zone": zone}
    return made(
        "pressure.zone",
        measured,
        limit,
        "kPa",
        "at most",
        source="from memory",
        watch=watch,
        pressure_mmhg=40.0,
        **names,
    )
