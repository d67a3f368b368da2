"""Sound cases with something wrong: what is changed, the key named, the value named, what would be accepted."""

from collections.abc import Mapping

BASE = {
    "case.code": '"PY-900"',
    "case.side": '"right"',
    "case.finger": '"middle"',
    "measured.sex": '"man"',
    "measured.hand_length_mm": "193",
    "measured.middle.pip_girth_mm": "66",
    "measured.middle.dip_girth_mm": "56",
    "orthosis.kind": '"pip_extension"',
    "print.material": '"petg"',
    "print.printer": '"extrusion"',
}
MALLET = {"orthosis.kind": '"mallet"', "orthosis.dip_hyperextension_deg": "5"}


def case_text(edits: Mapping[str, str | None]) -> str:
    """Return a sound case as TOML, with keys replaced, added, or (None) left out; values are TOML literals."""
    tables: dict[str, list[str]] = {}
    for key, literal in {**BASE, **edits}.items():
        table, _, name = key.rpartition(".")
        if literal is not None:
            tables.setdefault(table, []).append(f"{name} = {literal}")
    top = tables.pop("", [])
    return "\n".join(top + [line for table, keys in tables.items() for line in (f"[{table}]", *keys)]) + "\n"


# one wrong key: what is changed, the key named, the value named, what would be accepted
ONE_KEY = [
    # not a value of this kind
    ("text for a number", {"orthosis.wall_mm": '"2"'}, "orthosis.wall_mm", '"2"', "a number from 0.8 to 6 mm"),
    ("number with its unit", {"orthosis.wall_mm": '"2 mm"'}, "orthosis.wall_mm", '"2 mm"', "a number from 0.8 to 6 mm"),
    ("yes/no for a number", {"orthosis.clearance_mm": "true"}, "orthosis.clearance_mm", "true", "a number from 0 to 6 mm"),
    ("list for a number", {"orthosis.wall_mm": "[2, 3]"}, "orthosis.wall_mm", "[2, 3]", "a number from 0.8 to 6 mm"),
    ("date for a number", {"orthosis.wall_mm": "2026-11-25"}, "orthosis.wall_mm", "2026-11-25", "a number"),
    ("number for a text", {"case.code": "14"}, "case.code", "14", "1 to 24 letters"),
    ("number for a table", {"orthosis.vents": "3"}, "orthosis.vents", "3", "a table [orthosis.vents]"),
    ("table for a number", {"orthosis.wall_mm": "{ value = 2 }"}, "orthosis.wall_mm", "a table", "a number"),
    ("not a number", {"orthosis.wall_mm": "nan"}, "orthosis.wall_mm", "nan", "from 0.8 to 6 mm"),
    ("infinite", {"orthosis.wall_mm": "inf"}, "orthosis.wall_mm", "inf", "from 0.8 to 6 mm"),
    ("minus infinite", {"measured.hand_length_mm": "-inf"}, "measured.hand_length_mm", "-inf", "from 80 to 260 mm"),
    ("number beyond all floats", {"orthosis.wall_mm": "1e999"}, "orthosis.wall_mm", "inf", "from 0.8 to 6 mm"),
    # beyond the limits
    ("negative girth", {"measured.middle.pip_girth_mm": "-66"}, "measured.middle.pip_girth_mm", "-66", "from 28 to 140 mm"),
    ("girth in cm", {"measured.middle.pip_girth_mm": "6.6"}, "measured.middle.pip_girth_mm", "6.6", "from 28 to 140 mm"),
    ("zero wall", {"orthosis.wall_mm": "0"}, "orthosis.wall_mm", "0", "from 0.8 to 6 mm"),
    ("wall of an inch", {"orthosis.wall_mm": "25.4"}, "orthosis.wall_mm", "25.4", "from 0.8 to 6 mm"),
    ("negative clearance", {"orthosis.clearance_mm": "-0.5"}, "orthosis.clearance_mm", "-0.5", "from 0 to 6 mm"),
    ("angle beyond the kind", {"orthosis.pip_flexion_deg": "95"}, "orthosis.pip_flexion_deg", "95", "from 0 to 90 degrees"),
    ("negative angle", {"orthosis.pip_flexion_deg": "-5"}, "orthosis.pip_flexion_deg", "-5", "from 0 to 90 degrees"),
    ("strap nobody sells", {"orthosis.straps.width_mm": "12"}, "orthosis.straps.width_mm", "12", "10, 13, 16, 20, 25"),
    ("open fraction in percent", {"orthosis.vents.open_fraction": "30"}, "orthosis.vents.open_fraction", "30", "from 0.01 to 0.7"),
    # not one of the choices
    ("unknown side", {"case.side": '"rigth"'}, "case.side", '"rigth"', 'one of "left", "right"'),
    ("thumb", {"case.finger": '"thumb"'}, "case.finger", '"thumb"', 'one of "index", "middle", "ring", "little"'),
    ("unknown form", {"orthosis.form": '"palmar"'}, "orthosis.form", '"palmar"', 'one of "volar", "dorsal", "sleeve"'),
    ("unknown kind", {"orthosis.kind": '"malet"'}, "orthosis.kind", '"malet"', 'the nearest is "mallet"'),
    ("kind as a number", {"orthosis.kind": "2"}, "orthosis.kind", "2", 'one of "dorsal_blocking", "figure_of_eight"'),
    ("unknown material", {"print.material": '"PETG-CF"'}, "print.material", '"PETG-CF"', 'the nearest is "petg"'),
    ("unknown printer", {"print.printer": '"extrusoin"'}, "print.printer", '"extrusoin"', 'the nearest is "extrusion"'),
    ("a printer that cannot", {"print.printer": '"resin"'}, "print.printer", '"resin"', "petg needs material extrusion"),
    ("visit of nought", {"case.visit": "0"}, "case.visit", "0", "from 1 to 99"),
    ("visit after the last", {"case.visit": "100"}, "case.visit", "100", "from 1 to 99"),
    ("half a visit", {"case.visit": "1.5"}, "case.visit", "1.5", "a whole number"),
    ("visit in words", {"case.visit": '"2nd"'}, "case.visit", '"2nd"', "a whole number"),
    ("code with a blank", {"case.code": '"PY 900"'}, "case.code", '"PY 900"', "letters a to z, digits, - and _"),
    ("code that climbs out", {"case.code": '"../PY"'}, "case.code", '"../PY"', "letters a to z, digits, - and _"),
    ("code too long", {"case.code": f'"{"P" * 25}"'}, "case.code", "P" * 25, "1 to 24 letters"),
    ("empty code", {"case.code": '""'}, "case.code", '""', "1 to 24 letters"),
    # unknown keys
    ("misspelt key", {"orthosis.wall_thikness_mm": "2"}, "orthosis.wall_thikness_mm", "2", "the nearest is orthosis.wall_mm"),
    ("unit in the key", {"measured.middle.pip_girth_cm": "6"}, "measured.middle.pip_girth_cm", "6", "measured.middle.pip_girth_mm"),
    ("key without its unit", {"orthosis.clearance": "0.5"}, "orthosis.clearance", "0.5", "orthosis.clearance_mm"),
    ("key in the wrong table", {"measured.pip_girth_mm": "66"}, "measured.pip_girth_mm", "66", "measured.middle.pip_girth_mm"),
    ("unknown table", {"prnt.material": '"pla"'}, "prnt", "a table", "the nearest is print"),
    ("key of another kind", {"orthosis.dip_hyperextension_deg": "5"}, "orthosis.dip_hyperextension_deg", "5", "only kind mallet or mallet_with_pip_block has it"),
    ("nothing like a key", {"orthosis.zzz": "1"}, "orthosis.zzz", "1", "known here are kind, wall_mm, clearance_mm"),
    # one number against another
    (
        "girths out of order",
        {"measured.middle.dip_girth_mm": "70"},
        "measured.middle.dip_girth_mm",
        "70",
        "at most 69 goes with pip_girth_mm = 66",
    ),
    ("rim too round for the wall", {"orthosis.rim_radius_mm": "1.2"}, "orthosis.rim_radius_mm", "1.2", "half of wall_mm = 2, that is below 1"),
    ("wall too thin for the rim", {"orthosis.wall_mm": "1.8"}, "orthosis.rim_radius_mm", "0.9", "half of wall_mm = 1.8"),
    ("bridge too narrow", {"orthosis.vents.pitch_mm": "4.5"}, "orthosis.vents.pitch_mm", "4.5", "bridge of 1.50 mm"),
    ("vents too open", {"orthosis.vents.open_fraction": "0.6"}, "orthosis.vents.open_fraction", "0.6", "open fraction of at most 0.339"),
    ("slots on the rounded edge", {"orthosis.vents.edge_margin_mm": "1.5"}, "orthosis.vents.edge_margin_mm", "1.5", "at least 1.9"),
    (
        "pitch told twice",
        {"orthosis.vents.pitch_mm": "8", "orthosis.vents.open_fraction": "0.2"},
        "orthosis.vents.open_fraction",
        "0.2",
        "pitch_mm = 8",
    ),
    (
        "engraved through the wall",
        {"orthosis.marking.style": '"engraved"', "orthosis.marking.depth_mm": "1.4"},
        "orthosis.marking.depth_mm",
        "1.4",
        "engrave at most 1.2",
    ),
    ("palm longer than the hand", {"measured.palm_length_mm": "120", "measured.hand_length_mm": "110"}, "measured.palm_length_mm", "120", "at most 110"),
    ("girth below twice the breadth", {"measured.hand_breadth_mm": "90", "measured.hand_girth_mm": "170"}, "measured.hand_girth_mm", "170", "hand_breadth_mm = 90"),
    (
        "straighter than the joint goes",
        {"measured.middle.pip_passive_extension_deficit_deg": "25", "orthosis.pip_flexion_deg": "10"},
        "orthosis.pip_flexion_deg",
        "10",
        "at least 25 degrees",
    ),
    (
        "more bent than the joint goes",
        {"measured.middle.pip_max_flexion_deg": "30", "orthosis.pip_flexion_deg": "45"},
        "orthosis.pip_flexion_deg",
        "45",
        "at most 30 degrees",
    ),
    (
        "hyperextended beyond the joint",
        {**MALLET, "measured.middle.dip_passive_hyperextension_deg": "0", "orthosis.dip_hyperextension_deg": "8"},
        "orthosis.dip_hyperextension_deg",
        "8",
        "at most 0 degrees",
    ),
    (
        "hyperextended without an override",
        {**MALLET, "orthosis.dip_hyperextension_deg": "12"},
        "orthosis.dip_hyperextension_deg",
        "12",
        'allow = ["dip_hyperextension"]',
    ),
    (
        "override that nothing needs",
        {"override.reason": '"by the surgeon"', "override.allow": '["wall"]'},
        "override.allow[0]",
        '"wall"',
        "not a known override",
    ),
    (
        "override for an override of another name",
        {**MALLET, "override.reason": '"by the surgeon"', "override.allow": '["dip_hyperextention"]'},
        "override.allow[0]",
        '"dip_hyperextention"',
        'the nearest is "dip_hyperextension"',
    ),
    ("override of no reason", {"override.reason": '""'}, "override.reason", '""', "says why"),
    ("override list of numbers", {"override.reason": '"by the surgeon"', "override.allow": "[1]"}, "override.allow[0]", "1", "a text in quotes"),
]  # fmt: skip

MISSING = [
    ("code", {"case.code": None}, "case.code", "1 to 24 letters"),
    ("side", {"case.side": None}, "case.side", 'one of "left", "right"'),
    ("finger", {"case.finger": None}, "case.finger", 'one of "index"'),
    ("kind", {"orthosis.kind": None, "orthosis.wall_mm": "2"}, "orthosis.kind", 'one of "dorsal_blocking"'),
    ("material", {"print.material": None}, "print.material", "a text in quotes"),
    ("table [print]", {"print.material": None, "print.printer": None}, "print", "a table [print]"),
    ("reason of an override", {"override.allow": "[]"}, "override.reason", "says why"),
]
