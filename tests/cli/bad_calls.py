"""Wrong calls of every command, written by hand: what is called, what is odd about its files, which words the message must hold.

Every call runs in a folder with sound files (`sound_files`); `files` replaces or adds some. A file given as a table of edits is a sound case
or model with those keys changed. All of them must be refused: exit 2, a message that names what is wrong and what would be accepted.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.inputs.bad_cases import case_text

Edits = Mapping[str, str | None]


@dataclass(frozen=True)
class Call:
    """One wrong call: its name, the command line, the words of the message, and files that are not as usual."""

    name: str
    line: str
    words: tuple[str, ...]
    files: Mapping[str, str | bytes | Edits] = field(default_factory=dict)


MALLET = {"orthosis.kind": '"mallet"'}
BLOCK = {"orthosis.kind": '"mallet_with_pip_block"'}
EIGHT = {"orthosis.kind": '"figure_of_eight"'}
RELATIVE = {
    "orthosis.kind": '"relative_motion"',
    "measured.index.pip_girth_mm": "65",
    "measured.ring.pip_girth_mm": "62",
}
DORSAL = {"orthosis.kind": '"dorsal_blocking"', "measured.wrist_girth_mm": "174"}
STEPS = {"measured.middle.pip_passive_extension_deficit_deg": "40", "orthosis.pip_flexion_deg": "40"}
MODEL: Edits = {"orthosis.kind": None, "model.pose": '"mallet"'}
LIST = "case.code,case.side,case.finger,measured.middle.pip_girth_mm,model.pose\nT-1,right,middle,66,mallet\n"


def model_text(edits: Edits) -> str:
    """Return a sound model case as TOML, with keys replaced, added, or (None) left out."""
    return case_text({**MODEL, **edits})


def record(path: str = "", value: Any = None) -> str:
    """Return a sound record, with the value at a dotted path replaced; the path's last part is removed if the value is `...`."""
    from print3d.inputs.case import canonical_data
    from print3d.inputs.case_file import read_case
    from print3d.kinds.registry import KINDS

    case = read_case(SHIPPED / "pip_extension.toml", {name: kind.options for name, kind in KINDS.items()})
    data: dict[str, Any] = {
        "format": 1, "case": canonical_data(case), "remade_from": canonical_data(case), "versions": {},
        "material": case.material.model_dump(mode="json", exclude_none=True),
        "printer": case.printer.model_dump(mode="json", exclude_none=True),
        "parts": {"orthosis": {"sha256": "0" * 64}},
    }  # fmt: skip
    *tables, last = path.split(".") if path else ("",)
    table = data
    for name in tables:
        table = table[name]
    if value is ...:
        del table[last]
    elif path:
        table[last] = value
    return json.dumps(data)


SHIPPED = Path(__file__).parents[2] / "params" / "cases"


def sound_files() -> dict[str, str]:
    """Return the files that are there at every call."""
    return {
        "cases/case.toml": case_text({}),
        "cases/steps.toml": case_text({**STEPS, "case.code": '"PY-901"'}),
        "cases/model.toml": model_text({}),
        "cases/list.csv": LIST,
        "cases/record.json": record(),
        "outputs/PY-900/notes.txt": "mine",
    }


def text_of(name: str, content: str | bytes | Edits) -> bytes:
    """Return the bytes of a file of a call."""
    if isinstance(content, Mapping):
        content = model_text(content) if "model" in name else case_text(content)
    return content if isinstance(content, bytes) else content.encode()


def _one(command: str, file: str, rows: list[tuple[str, Edits, tuple[str, ...]]]) -> list[Call]:
    """Return the calls of one command on one file, with keys of that file changed."""
    path = f"cases/{file}"
    return [Call(name, f"{command} {path}", (path, *words), {path: edits}) for name, edits, words in rows]


# --- build: what each kind refuses -------------------------------------------------------------------------------------

BUILD = _one("build", "case.toml", [
    ("mallet bent", {**MALLET, "orthosis.dip_flexion_deg": "10"}, ("orthosis.dip_flexion_deg", "orthosis.dip_hyperextension_deg")),
    ("mallet beyond all joints", {**MALLET, "orthosis.dip_hyperextension_deg": "25"}, ("dip_hyperextension_deg = 25", "from 0 to 20")),
    ("mallet of a form of its own", {**MALLET, "orthosis.form": '"ring"'}, ("orthosis.form", '"volar", "dorsal", "sleeve"')),
    ("block in three pieces", {**BLOCK, "orthosis.pieces": '"three"'}, ("orthosis.pieces", '"one", "two"')),
    ("block nearly straight", {**BLOCK, "orthosis.pip_flexion_deg": "5"}, ("pip_flexion_deg = 5", "from 10 to 45")),
    ("block's ring as a number", {**BLOCK, "orthosis.ring": "17"}, ("orthosis.ring = 17", "a table [orthosis.ring]")),
    ("block's ring with a key of another", {**BLOCK, "orthosis.ring.blocks": '"flexion"'}, ("orthosis.ring.blocks", "not a known key")),
    ("ring without a wall", {**EIGHT, "orthosis.wall_mm": "1"}, ("wall_mm = 1", "from 1.2 to 5")),
    ("ring that hangs", {**EIGHT, "orthosis.clearance_mm": "4"}, ("clearance_mm = 4", "from 0 to 3")),
    ("ring with a sharp rim", {**EIGHT, "orthosis.rim_radius_mm": "0.2"}, ("rim_radius_mm = 0.2", "from 0.5 to 2.5")),
    ("ring with a rim rounder than its wall", {**EIGHT, "orthosis.wall_mm": "2", "orthosis.rim_radius_mm": "1.2"}, ("rim_radius_mm = 1.2", "half of wall_mm = 2")),
    ("ring that blocks both ways", {**EIGHT, "orthosis.blocks": '"both"'}, ("orthosis.blocks", '"extension", "flexion"')),
    ("ring with a long lever", {**EIGHT, "orthosis.lever_mm": "40"}, ("lever_mm = 40", "from 6 to 25")),
    ("ring with a thread for a band", {**EIGHT, "orthosis.band_width_mm": "1"}, ("band_width_mm = 1", "from 2.5 to 12")),
    ("ring with a form", {**EIGHT, "orthosis.form": '"volar"'}, ("orthosis.form", "only kind")),
    ("relative motion without any", {**RELATIVE, "orthosis.mcp_difference_deg": "0"}, ("mcp_difference_deg = 0", "from 10 to 30")),
    ("relative motion both ways", {**RELATIVE, "orthosis.injured_finger": '"straight"'}, ("injured_finger", '"more_extended", "more_flexed"')),
    ("relative motion of two", {**RELATIVE, "orthosis.fingers": '"two"'}, ("orthosis.fingers", '"three", "four"')),
    ("relative motion, count as a number", {**RELATIVE, "orthosis.fingers": "3"}, ("orthosis.fingers = 3", '"three", "four"')),
    ("relative motion, neighbours bent back", {**RELATIVE, "orthosis.neighbour_mcp_flexion_deg": "-10"}, ("neighbour_mcp_flexion_deg = -10", "from 0 to 60")),
    ("relative motion, a wide band", {**RELATIVE, "orthosis.band_width_mm": "21"}, ("band_width_mm = 21", "from 3.5 to 20")),
    ("dorsal block of a form there is not", {**DORSAL, "orthosis.form": '"arm"'}, ("orthosis.form", '"forearm", "hand"')),
    ("dorsal block by no known regimen", {**DORSAL, "orthosis.protocol": '"early_activ"'}, ("orthosis.protocol", "early_active")),
    ("dorsal block by a numbered regimen", {**DORSAL, "orthosis.protocol": "3"}, ("orthosis.protocol = 3", "a text in quotes")),
    ("dorsal block with a wrist both ways", {**DORSAL, "orthosis.wrist_flexion_deg": "20", "orthosis.wrist_extension_deg": "20"}, ("wrist_extension_deg = 20", "wrist_flexion_deg = 20")),
    ("dorsal block deviated both ways", {**DORSAL, "orthosis.wrist_ulnar_deviation_deg": "5", "orthosis.wrist_radial_deviation_deg": "5"}, ("wrist_radial_deviation_deg = 5", "wrist_ulnar_deviation_deg = 5")),
    ("dorsal block, wrist bent over the guard", {**DORSAL, "orthosis.wrist_flexion_deg": "50"}, ("wrist_flexion_deg = 50", 'allow = ["wrist_flexion"]', "carpal tunnel")),
    ("dorsal block, wrist extended over the guard", {**DORSAL, "orthosis.wrist_extension_deg": "50"}, ("wrist_extension_deg = 50", 'allow = ["wrist_extension"]')),
    ("dorsal block, fingers bent over the guard", {**DORSAL, "orthosis.ip_flexion_deg": "20"}, ("ip_flexion_deg = 20", 'allow = ["ip_flexion"]', "stiff")),
    ("dorsal block, MCPs bent back", {**DORSAL, "orthosis.mcp_flexion_deg": "-1"}, ("mcp_flexion_deg = -1", "from 0 to 90")),
    ("dorsal block of the thumb", {**DORSAL, "orthosis.thumb_mcp_flexion_deg": "40"}, ("thumb_mcp_flexion_deg", "not a known key")),
    ("dorsal block short of the tips", {**DORSAL, "orthosis.beyond_tips_mm": "0"}, ("beyond_tips_mm = 0", "from 5 to 20")),
    ("dorsal block with ribs as a switch", {**DORSAL, "orthosis.wrist_ribs": "true"}, ("wrist_ribs = true", "a table [orthosis.wrist_ribs]")),
    ("pull over the guard", {"orthosis.end_force_n": "5"}, ("end_force_n = 5", 'allow = ["end_force"]', "200 g")),
    ("pull of a horse", {"orthosis.end_force_n": "500"}, ("end_force_n = 500", "from 0.05 to 20")),
    ("torque over the guard", {"orthosis.joint_torque_nmm": "100"}, ("joint_torque_nmm = 100", 'allow = ["joint_torque"]')),
    ("worn 25 hours a day", {"orthosis.wear_hours_per_day": "25"}, ("wear_hours_per_day = 25", "from 0.25 to 24")),
    ("worn not at all", {"orthosis.wear_hours_per_day": "0"}, ("wear_hours_per_day = 0", "from 0.25 to 24")),
    ("protected as a text", {"case.protected": '"yes"'}, ("case.protected", "true or false")),
    ("mallet that protects nothing", {**MALLET, "case.protected": "false"}, ("case.protected = false", "mallet", "leave it out")),
    ("mallet worn in spells", {**MALLET, "orthosis.wear_hours_at_once": "2"}, ("orthosis.wear_hours_at_once = 2", "leave it out")),
    ("PIP that may heal, worn in spells", {"orthosis.wear_hours_at_once": "2"}, ("orthosis.wear_hours_at_once = 2", "leave it out", "protected = false")),
    ("ring that stays on", {**EIGHT, "case.protected": "true"}, ("case.protected = true", "figure_of_eight", "leave it out")),
    ("override as a text", {"override": '"yes"'}, ("override", "a table [override]")),
    ("override of all", {"override.reason": '"by the surgeon"', "override.allow": '"all"'}, ("override.allow",)),
    ("override of another kind", {"override.reason": '"by the surgeon"', "override.allow": '["ip_flexion"]'}, ("override.allow[0]", "ip_flexion", "known are")),
    ("override with a word for a reason", {"override.reason": '"no"'}, ("override.reason", "3 to 500 characters")),
    # who and where
    ("code of a device of Windows", {"case.code": '"CON"'}, ("case.code", '"CON"', "name of a device")),
    ("code of a numbered device", {"case.code": '"com7"'}, ("case.code", '"com7"', "name of a device")),
    ("code that is absolute", {"case.code": '"/etc/passwd"'}, ("case.code", "letters a to z, digits, - and _")),
    ("code with a drive", {"case.code": "'C:\\temp'"}, ("case.code", "letters a to z, digits, - and _")),
    ("code that is hidden", {"case.code": '".git"'}, ("case.code", "letters a to z, digits, - and _")),
    ("code of two dots", {"case.code": '".."'}, ("case.code", "letters a to z, digits, - and _")),
    ("code with an end of line", {"case.code": r'"PY-900\n"'}, ("case.code", r'"PY-900\n"')),
    ("code with a null character", {"case.code": r'"PY\u0000"'}, ("case.code", "letters a to z, digits, - and _")),
    ("code that colours a terminal", {"case.code": r'"\u001b[31mPY"'}, ("case.code", "u001b")),
    ("code written from right to left", {"case.code": r'"PY\u202e900"'}, ("case.code", "u202e")),
    ("code in Greek", {"case.code": '"ΠΥ-900"'}, ("case.code", "ΠΥ-900", "letters a to z")),
    ("code that is an emoji", {"case.code": '"🖐"'}, ("case.code", "letters a to z")),
    ("code of full-width digits", {"case.code": '"PY-\uff19"'}, ("case.code", "letters a to z")),
    ("code of a thousand letters", {"case.code": f'"{"P" * 1000}"'}, ("case.code", "PPP...", "1 to 24 letters")),
    ("side as a letter", {"case.side": '"R"'}, ("case.side", '"left", "right"')),
    ("finger by its number", {"case.finger": "3"}, ("case.finger = 3", '"index", "middle"')),
    ("a language there is not", {"case.language": '"fr"'}, ("case.language", '"en", "de"')),
    ("a paper there is not", {"case.paper": '"a5"'}, ("case.paper", '"a4", "letter"')),
    ("a note like a novel", {"case.note": f'"{"x" * 501}"'}, ("case.note", "500")),
    ("a name for a code key", {"case.name": '"somebody"'}, ("case.name", "not a known key")),
    # measures
    ("sex as a letter", {"measured.sex": '"m"'}, ("measured.sex", '"woman", "man"')),
    ("age of a newborn", {"measured.age_years": "0"}, ("age_years = 0", "from 1 to 120")),
    ("stature in metres", {"measured.stature_mm": "1.81"}, ("stature_mm = 1.81", "from 700 to 2500")),
    ("hand in inches", {"measured.hand_length_mm": "7.6"}, ("hand_length_mm = 7.6", "from 80 to 260")),
    ("hand in cm", {"measured.hand_length_cm": "19.3"}, ("hand_length_cm", "measured.hand_length_mm")),
    ("wrist thicker than the forearm", {"measured.wrist_girth_mm": "250", "measured.forearm_girth_mm": "240"}, ("wrist_girth_mm = 250", "forearm_girth_mm = 240")),
    ("a girth beyond the elbow", {"measured.forearm_length_mm": "140", "measured.forearm_girth_at_150_mm": "240"}, ("forearm_girth_at_150_mm", "forearm_length_mm = 140")),
    ("a girth between the marks", {"measured.forearm_girth_at_75_mm": "200"}, ("forearm_girth_at_75_mm", "not a known key")),
    ("a thumb", {"measured.thumb.pip_girth_mm": "70"}, ("measured.thumb", "not a known key")),
    ("a toe's key", {"measured.middle.toe_girth_mm": "70"}, ("measured.middle.toe_girth_mm", "not a known key")),
    ("a joint stiffer than it bends", {"measured.middle.pip_passive_extension_deficit_deg": "80", "measured.middle.pip_max_flexion_deg": "60", "orthosis.pip_flexion_deg": "80"}, ("pip_passive_extension_deficit_deg = 80", "at most 60")),
    ("blanches beyond where it goes", {"measured.middle.dip_blanch_hyperextension_deg": "20", "measured.middle.dip_passive_hyperextension_deg": "10"}, ("dip_blanch_hyperextension_deg = 20", "at most 10")),
    ("measures as a list", {"measured.middle": None, "measured.ring": "[66, 56]", "measured.middle.pip_girth_mm": None, "measured.middle.dip_girth_mm": None}, ("measured.ring", "a table")),
    ("a zero from a started case", {"measured.middle.pip_girth_mm": "0"}, ("pip_girth_mm = 0", "from 28 to 140")),
    # print, vents, straps, marking
    ("a price below nothing", {"print.price_per_kg": "-1"}, ("price_per_kg = -1", "from 0 to 10000")),
    ("a price beyond sense", {"print.price_per_kg": "1e30"}, ("price_per_kg", "from 0 to 10000")),
    ("a printer for a material", {"print.material": '"extrusion"'}, ("print.material", '"extrusion"', "known are")),
    ("material as a list", {"print.material": '["petg"]'}, ("print.material", "a text in quotes")),
    ("grid there is not", {"orthosis.vents.grid": '"round"'}, ("orthosis.vents.grid", "hexagonal")),
    ("vents like pinholes", {"orthosis.vents.diameter_mm": "0.1"}, ("vents.diameter_mm = 0.1", "accepted is")),
    ("strap as a word", {"orthosis.straps.width_mm": '"wide"'}, ("straps.width_mm", "10, 13, 16")),
    ("marking as a text", {"orthosis.marking": '"PY"'}, ("orthosis.marking", "a table [orthosis.marking]")),
    ("letters like posters", {"orthosis.marking.letter_height_mm": "100"}, ("letter_height_mm = 100", "accepted is")),
    ("an integer with 4000 digits", {"orthosis.wall_mm": "9" * 4000}, ("orthosis.wall_mm", "from 0.8 to 6")),
    ("a number of 400 places", {"orthosis.wall_mm": "1" + "0" * 400}, ("orthosis.wall_mm", "from 0.8 to 6")),
    ("a key of an empty name", {'orthosis.""': "1"}, ("not a known key",)),
    ("a key of 5000 letters", {"orthosis." + "k" * 5000: "1"}, ("not a known key",)),
])  # fmt: skip

FILES = [
    Call("no case", "build", ("CASE",)),
    Call("a folder", "build cases", ("cases: is a folder", "case.toml")),
    Call("no such file", "build cases/cas.toml", ("no such file", "cases/case.toml")),
    Call("no such folder", "build nowhere/case.toml", ("nowhere/case.toml", "no such file")),
    Call("a file for a folder", "build cases/case.toml/x.toml", ("cases/case.toml/x.toml", "give")),
    Call("one of two is bad", "build cases/none.toml cases/gone.toml", ("none.toml", "gone.toml")),
    Call("a name of 3000 letters", f"build {'a' * 3000}.toml", ("aaa", "cannot be read")),
    Call("a name that colours a terminal", "build 'cases/\x1b[31mred.toml'", (r"cases/\x1b[31mred.toml", "no such file")),
    Call("a name with an end of line", "build 'cases/a\nb.toml'", ("b.toml", "no such file")),
    Call("a name of no encoding", "build cases/\udcff.toml", (r"cases/\udcff.toml", "no such file")),
    Call("a record for a case", "build cases/record.json", ("record.json: line 1", "measured.ring")),
    Call("a table for a case", "build cases/list.csv", ("list.csv", "not TOML")),
    Call("a model for a case", "build cases/model.toml", ("model", "orthosis")),
    Call("null characters", "build cases/z.toml", ("z.toml: line 1", "not TOML"), {"cases/z.toml": b"\0" * 4096}),
    Call("a null character in a text", "build cases/z.toml", ("z.toml: line 2", "not TOML"), {"cases/z.toml": b"[case]\ncode = 'P\0Y'\n"}),
    Call("a zip archive", "build cases/z.toml", ("z.toml",), {"cases/z.toml": b"PK\x03\x04\x14\x00\x00\x00\x08\x00"}),
    Call("an STL file", "build cases/z.toml", ("z.toml",), {"cases/z.toml": b"solid x\nfacet normal 0 0 1\n"}),
    Call("half a character", "build cases/z.toml", ("z.toml: line 2", "not UTF-8"), {"cases/z.toml": "[case]\nnote='ü".encode()[:-1]}),
    Call("UTF-16", "build cases/z.toml", ("z.toml: ", "UTF-16", "encoding UTF-8"), {"cases/z.toml": "[case]".encode("utf-16")}),
    Call("overlong UTF-8", "build cases/z.toml", ("not UTF-8",), {"cases/z.toml": b"[case]\nnote = '\xc0\xaf'\n"}),
    Call("two marks of byte order", "build cases/z.toml", ("not TOML",), {"cases/z.toml": b"\xef\xbb\xbf\xef\xbb\xbf[case]\n"}),
    Call("ends of line of an old computer", "build cases/z.toml", ("z.toml", "not TOML"), {"cases/z.toml": b"[case]\rcode='PY'\r"}),
    Call("tables nested deeply", "build cases/z.toml", ("z.toml",), {"cases/z.toml": "[" + ".".join(["a"] * 5000) + "]\nx=1\n"}),
    Call("tables in tables", "build cases/z.toml", ("z.toml",), {"cases/z.toml": "x = " + "{x=" * 5000 + "1" + "}" * 5000}),
    Call("the top of a file alone", "build cases/z.toml", ("code", "not a known key"), {"cases/z.toml": "code = 'PY-900'\n"}),
    Call("a table twice", "build cases/z.toml", ("z.toml: line 3", "not TOML"), {"cases/z.toml": "[case]\ncode='P'\n[case]\n"}),
    Call("tables in a list", "build cases/z.toml", ("case", "a table [case]"), {"cases/z.toml": "[[case]]\ncode='P'\n"}),
    Call("text for all tables", "build cases/z.toml", ("case", "orthosis", "print"), {"cases/z.toml": "case='a'\northosis='b'\nprint='c'\n"}),
    Call("a spreadsheet of keys", "build cases/z.toml", ("decimal point, not a comma",), {"cases/z.toml": "[orthosis]\nwall_mm = 2,0\n"}),
    Call("a file far too large", "build cases/z.toml", ("z.toml", "at most 1000000"), {"cases/z.toml": b"#" * 1_000_001}),
    Call("two, both wrong", "build cases/case.toml cases/two.toml", ("cases/case.toml", "cases/two.toml"), {"cases/two.toml": {"orthosis.wall_mm": "8"}, "cases/case.toml": {"orthosis.wall_mm": "9"}}),
    Call("no such format", "build cases/case.toml --formats obj", ("--formats", "obj", "stl, 3mf")),
    Call("no format", "build cases/case.toml --formats ''", ("--formats", "stl, 3mf")),
    Call("formats with another sign", "build cases/case.toml --formats 'stl;step'", ("--formats", "stl;step", "commas")),
    Call("no value for an option", "build cases/case.toml --out", ("--out",)),
    Call("no such option", "build cases/case.toml --format stl", ("--format",)),
    Call("out is a file", "build cases/case.toml --out cases/list.csv", ("cases/list.csv", "--out")),
    Call("out is below a file", "build cases/case.toml --out cases/list.csv/deep", ("cases/list.csv", "--out")),
    Call("out is the system's", "build cases/case.toml --out /proc/nowhere", ("/proc/nowhere", "--out")),
    Call("out with a name of 300 letters", f"build cases/case.toml --out {'o' * 300}", ("ooo", "--out")),
    Call("the folder's name is taken", "build cases/case.toml --out taken", ("taken/PY-900", "--out"), {"taken/PY-900": "mine"}),
    Call("no such command", "biuld cases/case.toml", ("biuld",)),
    Call("no such command at all", "print", ("print",)),
    Call("an option before the command", "--verbose build cases/case.toml", ("--verbose",)),
]  # fmt: skip

# --- a clinic's own shelves beside the cases ------------------------------------------------------------------------------

MATERIAL = "[own]\ntitle = 'Own'\nprocesses = ['extrusion']\n"
SHELVES = [
    Call("a material without figures", "build cases/case.toml", ("materials/own.toml", "own.modulus_mpa", "missing"), {"materials/own.toml": MATERIAL}),
    Call("a material as a number", "check cases/case.toml", ("materials/own.toml", "own = 3", "a table [its_name]"), {"materials/own.toml": "own = 3\n"}),
    Call("a figure without its source", "check cases/case.toml", ("own.modulus_mpa.source", "missing"), {"materials/own.toml": MATERIAL + "modulus_mpa = { value = 2000, mark = 'memory' }\n"}),
    Call("a figure below nought", "check cases/case.toml", ("own.modulus_mpa.value = -1",), {"materials/own.toml": MATERIAL + "modulus_mpa = { value = -1, source = 'me', mark = 'memory' }\n"}),
    Call("a figure without end", "check cases/case.toml", ("own.modulus_mpa.value = inf", "accepted is"), {"materials/own.toml": MATERIAL + "modulus_mpa = { value = inf, source = 'me', mark = 'memory' }\n"}),
    Call("a figure with no number", "check cases/case.toml", ("own.modulus_mpa", "a table"), {"materials/own.toml": MATERIAL + "modulus_mpa = 2000\n"}),
    Call("a process there is not", "check cases/case.toml", ("own.processes[0]", "extrusion"), {"materials/own.toml": "[own]\nprocesses = ['glue']\n"}),
    Call("a material file that is no text", "check cases/case.toml", ("materials/own.toml: ", "UTF-16"), {"materials/own.toml": b"\xff\xfe"}),
    Call("an empty material file", "check cases/case.toml", ("materials/own.toml", "empty"), {"materials/own.toml": ""}),
    Call("a printer without a bed", "check cases/case.toml", ("printers/own.toml", "own.bed_width_mm", "missing"), {"printers/own.toml": "[own]\ntitle = 'Own'\nprocess = 'extrusion'\n"}),
    Call("a printer as a list", "sensitivity cases/case.toml", ("printers/own.toml", "own", "a table [its_name]"), {"printers/own.toml": "own = [1]\n"}),
    Call("a printer file that is no TOML", "compare cases/case.toml --vary wall_mm=2,3", ("printers/own.toml: line 1", "not TOML"), {"printers/own.toml": "own\n"}),
    Call("a printer file that is no TOML, model", "model cases/model.toml", ("printers/own.toml: line 1", "not TOML"), {"printers/own.toml": "own\n"}),
    Call("a regimen without angles", "build cases/case.toml --formats stl", ("protocols/own.toml", "own.mcp_flexion_deg", "missing"), {"protocols/own.toml": "[own]\ntitle = 'Own'\n", "cases/case.toml": {**DORSAL, "orthosis.protocol": '"own"'}}),
    Call("a regimen as a text", "build cases/case.toml --formats stl", ("protocols/own.toml", "own", "a table [its_name]"), {"protocols/own.toml": "own = 'x'\n", "cases/case.toml": {**DORSAL, "orthosis.protocol": '"own"'}}),
    Call("a step rule of an odd way", "series cases/steps.toml --plan-only", ("guidance/series.toml", "pip_extension.towards"), {"guidance/series.toml": "[pip_extension]\ntowards = 'up'\n"}),
    Call("a step rule as a number", "series cases/steps.toml --plan-only", ("guidance/series.toml", "pip_extension = 5"), {"guidance/series.toml": "pip_extension = 5\n"}),
]  # fmt: skip

# --- the other commands ------------------------------------------------------------------------------------------------

CHECK = [
    Call("nothing to check", "check", ("CASE",)),
    Call("check no such file", "check cases/none.toml", ("cases/none.toml", "no such file")),
    Call("check a folder", "check .", ("is a folder",)),
    Call("check a misspelt key", "check cases/case.toml", ("orthosis.wal_mm", "orthosis.wall_mm"), {"cases/case.toml": {"orthosis.wal_mm": "2"}}),
    Call("check a bad number", "check cases/case.toml", ("orthosis.wall_mm = -2", "from 0.8 to 6"), {"cases/case.toml": {"orthosis.wall_mm": "-2"}}),
    Call("check a hostile code", "check cases/case.toml", ("case.code", "letters a to z"), {"cases/case.toml": {"case.code": '"../../x"'}}),
    Call("check with formats", "check cases/case.toml --formats stl", ("--formats",)),
    Call("check with an out", "check cases/case.toml --out x", ("--out",)),
    Call("check with a json file", "check cases/case.toml --json=yes", ("--json",)),
    Call("check a record", "check cases/record.json", ("record.json: line 1", "measured.ring")),
    Call("check bad in json", "check cases/case.toml --json", ("orthosis.wall_mm = -2",), {"cases/case.toml": {"orthosis.wall_mm": "-2"}}),
    Call("check a text of one line", "check cases/z.toml", ("z.toml: line 1", "not TOML"), {"cases/z.toml": "hello"}),
]  # fmt: skip

SUGGEST = [
    Call("no injury", "suggest", ("INJURY",)),
    Call("an empty injury", "suggest ''", ("injury", "known are")),
    Call("an injury of blanks", "suggest '  '", ("injury", "known are")),
    Call("a misspelt injury", "suggest malet", ("injury", '"malet"', "mallet")),
    Call("an injury elsewhere", "suggest 'broken leg'", ("broken leg", "known are")),
    Call("a tendon without a zone", "suggest extensor", ("zone", "known zones of extensor")),
    Call("a zone there is not", "suggest extensor IX", ("zone", "IX", "I, ")),
    Call("zone nought", "suggest flexor 0", ("zone", "0")),
    Call("a zone between two", "suggest flexor 2.5", ("zone", "2.5")),
    Call("a zone of digits of another script", "suggest flexor ²", ("zone",)),
    Call("an injury with a control character", "suggest 'mal\x1b[31mlet'", ("injury",)),
    Call("an injury of 5000 letters", f"suggest {'m' * 5000}", ("injury", "...")),
    Call("a stage there is not", "suggest mallet --stage old", ("stage", '"old"', "acute")),
    Call("a finger there is not", "suggest mallet --finger toe", ("finger", '"toe"', "index")),
    Call("a finger that has no such zone", "suggest swan neck --finger thumb", ("thumb",)),
    Call("a sign there is not", "suggest mallet --sign purple", ("sign", '"purple"', "known are")),
    Call("a misspelt sign", "suggest mallet --sign 'swan nek developing'", ("sign", "swan neck developing")),
    Call("an empty sign", "suggest mallet --sign ''", ("sign", "known are")),
    Call("a sign of another injury", "suggest flexor II --sign 'swan neck developing'", ("sign", "does not go with")),
    Call("an age in words", "suggest mallet --age ten", ("--age", "a valid")),
    Call("an age below nought", "suggest mallet --age -1", ("--age",)),
    Call("an age of Methuselah", "suggest mallet --age 969", ("--age",)),
    Call("an age that is no number", "suggest mallet --age nan", ("--age",)),
    Call("a deficit beyond the joint", "suggest extensor III --pip-lacks 200", ("pip_passive_extension_deficit_deg", "from 0 to 120")),
    Call("a deficit that is no number", "suggest extensor III --pip-lacks nan", ("pip_passive_extension_deficit_deg", "nan")),
    Call("a deficit without end", "suggest extensor III --pip-lacks inf", ("pip_passive_extension_deficit_deg", "inf")),
    Call("a deficit below nought", "suggest extensor III --pip-lacks=-5", ("pip_passive_extension_deficit_deg", "-5")),
    Call("a deficit with its unit", "suggest extensor III --pip-lacks 20deg", ("--pip-lacks", "a valid")),
    Call("a joint that is stiffer than it bends", "suggest extensor III --pip-lacks 60 --pip-bends 40", ("pip_passive_extension_deficit_deg", "at most 40")),
    Call("a joint beyond all", "suggest mallet --dip-beyond 80", ("dip_passive_hyperextension_deg", "from 0 to 70")),
    Call("a file without a side", "suggest mallet --finger ring --write new.toml", ("--side", "left or right")),
    Call("a file with a side there is not", "suggest mallet --finger ring --side up --write new.toml", ("--side", "up", "left or right")),
    Call("a file without a finger", "suggest mallet --side left --write new.toml", ("--finger", "index")),
    Call("a file that is there", "suggest mallet --finger ring --side left --write cases/case.toml", ("cases/case.toml", "another name")),
    Call("a file of a hostile code", "suggest mallet --finger ring --side left --write new.toml --code ../x", ("--code", "../x", "letters a to z")),
    Call("a file of a device's code", "suggest mallet --finger ring --side left --write new.toml --code AUX", ("--code", "AUX", "device")),
    Call("a file of a long code", f"suggest mallet --finger ring --side left --write new.toml --code {'P' * 25}", ("--code", "1 to 24 letters")),
    Call("a file whose name is no code", "suggest mallet --finger ring --side left --write 'new case.toml'", ("--code", "new case", "letters a to z")),
    Call("a file of the eleventh", "suggest mallet --finger ring --side left --write new.toml --choose 11", ("--choose 11", "in the list")),
    Call("a file of the noughth", "suggest mallet --finger ring --side left --write new.toml --choose 0", ("--choose",)),
    Call("a file below a file", "suggest mallet --finger ring --side left --write cases/list.csv/new.toml", ("cases/list.csv/new.toml", "cannot be written")),
    Call("a file where nobody can write", "suggest mallet --finger ring --side left --write /proc/nowhere/new.toml", ("/proc/nowhere/new.toml", "cannot be written")),
    Call("a file for a folder's name", "suggest mallet --finger ring --side left --write cases --code PY-1", ("cases", "another name")),
    Call("a file that needs a measure", "suggest extensor III --stage chronic --finger ring --side left --write new.toml", ("--pip-lacks", "measure first")),
    Call("guidance that is no TOML", "suggest mallet --params .", ("guidance/injuries.toml: line 1", "not TOML"), {"guidance/injuries.toml": "nothing"}),
    Call("guidance as a number", "suggest mallet --params .", ("guidance/signs.toml", "a table [its_name]"), {"guidance/signs.toml": "x = 1\n"}),
    Call("a suggestion without a title", "suggest mallet --params .", ("guidance/suggestions.toml", "own.title", "missing"), {"guidance/suggestions.toml": "[own]\nkind = 'mallet'\n"}),
    Call("a suggestion with options as a number", "suggest mallet --params .", ("guidance/suggestions.toml", "own.options = 3"), {"guidance/suggestions.toml": "[own]\nkind = 'mallet'\ntitle = 'Own'\norder = 1\ninjuries = ['mallet']\nstages = ['acute']\nholds = 'DIP'\nfree = 'PIP'\nreasons = ['own']\noptions = 3\n"}),
    Call("a suggestion with options in a list", "suggest mallet --params .", ("guidance/suggestions.toml", "own.options"), {"guidance/suggestions.toml": "[own]\nkind = 'mallet'\ntitle = 'Own'\norder = 1\ninjuries = ['mallet']\nstages = ['acute']\nholds = 'DIP'\nfree = 'PIP'\nreasons = ['own']\noptions = ['form']\n"}),
    Call("a suggestion with figures as a text", "suggest mallet --params .", ("own.figures", "own.figures.its_key"), {"guidance/suggestions.toml": "[own]\nkind = 'mallet'\nfigures = 'x'\n"}),
    Call("a regimen that is no table", "suggest mallet --params .", ("protocols/own.toml", "own"), {"protocols/own.toml": "own = 1\n"}),
]  # fmt: skip

SERIES = [
    Call("no case for a series", "series", ("CASE",)),
    Call("two cases for a series", "series cases/case.toml cases/steps.toml", ("steps.toml",)),
    Call("a series of no file", "series cases/none.toml", ("cases/none.toml", "no such file")),
    Call("a series without today's angle", "series cases/case.toml", ("measured.middle.pip_passive_extension_deficit_deg", "missing")),
    Call("a series of a kind without steps", "series cases/case.toml", ("orthosis.kind", '"mallet"', "pip_extension"), {"cases/case.toml": MALLET}),
    Call("a series of a forearm block", "series cases/case.toml", ("orthosis.kind", "no published steps"), {"cases/case.toml": DORSAL}),
    Call("a goal beyond the joint", "series cases/steps.toml --goal 95", ("--goal 95", "0 to 90")),
    Call("a goal beyond straight", "series cases/steps.toml --goal=-10", ("--goal -10", "0 to 90")),
    Call("a goal that is no number", "series cases/steps.toml --goal nan", ("--goal nan", "0 to 90")),
    Call("a goal in words", "series cases/steps.toml --goal straight", ("--goal", "a valid")),
    Call("a step of nought", "series cases/steps.toml --step 0", ("--step 0", "2 to 20")),
    Call("a step backwards", "series cases/steps.toml --step=-5", ("--step -5", "2 to 20")),
    Call("a step too small to see", "series cases/steps.toml --step 0.001", ("--step 0.001", "2 to 20")),
    Call("a step without end", "series cases/steps.toml --step inf", ("--step inf", "2 to 20")),
    Call("a step that is no number", "series cases/steps.toml --step nan", ("--step nan", "2 to 20")),
    Call("a margin below nought", "series cases/steps.toml --margin=-1", ("--margin -1", "0 to 15")),
    Call("a margin that is no number", "series cases/steps.toml --margin nan", ("--margin nan", "0 to 15")),
    Call("a margin of a right angle", "series cases/steps.toml --margin 90", ("--margin 90", "0 to 15")),
    Call("worn without a new measure", "series cases/steps.toml --worn 40", ("--worn", "--remeasured")),
    Call("worn beyond the joint", "series cases/steps.toml --remeasured pip_flexion_deg=30 --worn 200", ("--worn 200", "0 to 90")),
    Call("worn that is no number", "series cases/steps.toml --remeasured pip_flexion_deg=30 --worn nan", ("--worn nan", "0 to 90")),
    Call("nothing measured again", "series cases/steps.toml --remeasured ''", ("--remeasured", "pip_flexion_deg=number")),
    Call("measured again without a number", "series cases/steps.toml --remeasured pip_flexion_deg", ("--remeasured", "pip_flexion_deg=number")),
    Call("measured again in words", "series cases/steps.toml --remeasured pip_flexion_deg=some", ("--remeasured", "pip_flexion_deg=number")),
    Call("measured again, misspelt", "series cases/steps.toml --remeasured pip_girt_mm=66", ("pip_girt_mm", "pip_girth_mm")),
    Call("measured again, no number", "series cases/steps.toml --remeasured pip_flexion_deg=nan", ("--remeasured", "= nan", "from 0 to 120")),
    Call("measured again, beyond the joint", "series cases/steps.toml --remeasured pip_flexion_deg=300", ("300", "from 0 to 120")),
    Call("measured again, a girth in cm", "series cases/steps.toml --remeasured pip_girth_mm=6.6", ("pip_girth_mm = 6.6", "from 28 to 140")),
    Call("measured again, twice", "series cases/steps.toml --remeasured pip_flexion_deg=30,pip_flexion_deg=20", ("--remeasured", "pip_flexion_deg", "twice")),
    Call("no worker", "series cases/steps.toml --workers 0", ("--workers",)),
    Call("half a worker", "series cases/steps.toml --workers 0.5", ("--workers", "valid integer")),
    Call("a series in no format", "series cases/steps.toml --formats gcode", ("--formats", "gcode", "stl")),
    Call("a series into a file", "series cases/steps.toml --out cases/list.csv", ("list.csv", "--out")),
    Call("a series where a file is", "series cases/steps.toml --out taken --formats stl", ("taken/PY-901", "--out"), {"taken/PY-901": "mine"}),
]  # fmt: skip

COMPARE = [
    Call("nothing to compare", "compare", ("CASE",)),
    Call("compare no such file", "compare cases/none.toml --vary wall_mm=2,3", ("cases/none.toml", "no such file")),
    Call("vary nothing", "compare cases/case.toml --vary ''", ("--vary", "key=value,value")),
    Call("vary without values", "compare cases/case.toml --vary wall_mm", ("--vary", "wall_mm", "key=value,value")),
    Call("vary with no value", "compare cases/case.toml --vary wall_mm=", ("--vary", "key=value,value")),
    Call("vary no key", "compare cases/case.toml --vary =2,3", ("--vary", "key=value,value")),
    Call("vary with a gap", "compare cases/case.toml --vary wall_mm=2,,3", ("--vary", "missing between two commas")),
    Call("vary one value twice", "compare cases/case.toml --vary wall_mm=2,2.0", ("--vary", "twice")),
    Call("vary one key twice", "compare cases/case.toml --vary wall_mm=2,3 --vary orthosis.wall_mm=4", ("orthosis.wall_mm", "given twice")),
    Call("vary a misspelt key", "compare cases/case.toml --vary wal_mm=2,3", ("orthosis.wal_mm", "orthosis.wall_mm")),
    Call("vary beyond the limits", "compare cases/case.toml --vary wall_mm=2,9", ("orthosis.wall_mm = 9", "from 0.8 to 6")),
    Call("vary with words", "compare cases/case.toml --vary wall_mm=thin,thick", ("orthosis.wall_mm", '"thin"', "a number")),
    Call("vary a material there is not", "compare cases/case.toml --vary print.material=petg,wood", ("print.material", '"wood"', "known are")),
    Call("vary through a number", "compare cases/case.toml --vary orthosis.wall_mm.inner=2,3", ("orthosis.wall_mm", "wall_mm")),
    Call("vary through a text", "compare cases/case.toml --vary case.code.x=2,3", ("case.code", "no table")),
    Call("vary a whole table", "compare cases/case.toml --vary orthosis=1,2", ("orthosis", "table")),
    Call("vary the code into a path", "compare cases/case.toml --vary case.code=../a,../b", ("case.code", "../a")),
    Call("vary a key of dots", "compare cases/case.toml --vary ...=1,2", ("not a known key",)),
    Call("vary a key of 900 parts", f"compare cases/case.toml --vary {'.'.join('a' * 900)}=1,2", ("not a known key",)),
    Call("vary a number of 5000 digits", f"compare cases/case.toml --vary wall_mm=2,{'9' * 5000}", ("orthosis.wall_mm",)),
    Call("vary lists nested deeply", f"compare cases/case.toml --vary wall_mm=2,{'[' * 3000 + ']' * 3000}", ("wall_mm",)),
    Call("vary more lines than one", "compare cases/case.toml --vary 'wall_mm=2\nx = 1,3'", ("wall_mm",)),
    Call("vary not a number", "compare cases/case.toml --vary wall_mm=nan,inf", ("orthosis.wall_mm = nan", "from 0.8 to 6")),
    Call("far too many variants", "compare cases/case.toml " + " ".join(f"--vary measured.{key}={','.join(map(str, range(100, 130)))}" for key in ("hand_girth_mm", "wrist_girth_mm", "palm_length_mm")), ("27000 variants", "at most 20000")),
    Call("pairs of unequal length", "compare cases/case.toml --paired --vary wall_mm=2,3 --vary clearance_mm=0.3", ("--paired", "orthosis.wall_mm: 2", "orthosis.clearance_mm: 1")),
    Call("no variant can be", "compare cases/case.toml --vary rim_radius_mm=1.5,2", ("rim_radius_mm", "half of wall_mm")),
    Call("best by beauty", "compare cases/case.toml --vary wall_mm=2,3 --best-by beauty", ("--best-by beauty", "known are", "margin")),
    Call("best by nearly mass", "compare cases/case.toml --vary wall_mm=2,3 --best-by mas", ("--best-by mas", "nearest")),
    Call("compare with no worker", "compare cases/case.toml --vary wall_mm=2,3 --workers 0", ("--workers",)),
    Call("compare on no address", "compare cases/case.toml --vary wall_mm=2,3 --scheduler nonsense", ("--scheduler nonsense", "tcp://host:8786")),
    Call("compare on an odd protocol", "compare cases/case.toml --vary wall_mm=2,3 --scheduler http://x:1", ("--scheduler http://x:1", "tcp://host:8786")),
    Call("compare into a file", "compare cases/case.toml --vary wall_mm=2,3 --out cases/list.csv", ("list.csv", "--out")),
    Call("compare a bad case", "compare cases/case.toml --vary wall_mm=2,3", ("case.side", '"left", "right"'), {"cases/case.toml": {"case.side": '"x"'}}),
    Call("compare a device's code", "compare cases/case.toml --vary wall_mm=2,3", ("case.code", "device"), {"cases/case.toml": {"case.code": '"LPT1"'}}),
]  # fmt: skip

SENSITIVITY = [
    Call("nothing to study", "sensitivity", ("CASE",)),
    Call("study no such file", "sensitivity cases/none.toml", ("cases/none.toml", "no such file")),
    Call("study a bad case", "sensitivity cases/case.toml", ("orthosis.wall_mm = 9",), {"cases/case.toml": {"orthosis.wall_mm": "9"}}),
    Call("study several fingers", "sensitivity cases/case.toml", ("cases/case.toml", "relative_motion"), {"cases/case.toml": RELATIVE}),
    Call("draw nobody", "sensitivity cases/case.toml --draws 0", ("--draws",)),
    Call("draw a few", "sensitivity cases/case.toml --draws 15", ("--draws", "16")),
    Call("draw everybody", "sensitivity cases/case.toml --draws 8000000000", ("--draws", "1000000")),
    Call("draw in words", "sensitivity cases/case.toml --draws many", ("--draws", "valid integer")),
    Call("a seed below nought", "sensitivity cases/case.toml --seed -1", ("--seed",)),
    Call("a tape below nought", "sensitivity cases/case.toml --tape-sd-mm=-1", ("--tape-sd-mm",)),
    Call("a tape of rubber", "sensitivity cases/case.toml --tape-sd-mm 100", ("--tape-sd-mm", "10")),
    Call("a tape that is no number", "sensitivity cases/case.toml --tape-sd-mm nan", ("--tape-sd-mm",)),
    Call("a length that is no number", "sensitivity cases/case.toml --length-sd-mm nan", ("--length-sd-mm",)),
    Call("a swelling that is no number", "sensitivity cases/case.toml --swelling-sd-mm nan", ("--swelling-sd-mm",)),
    Call("a print that is no number", "sensitivity cases/case.toml --print-sd-mm nan", ("--print-sd-mm",)),
    Call("a print like clay", "sensitivity cases/case.toml --print-sd-mm 9", ("--print-sd-mm", "5")),
    Call("loose from nought", "sensitivity cases/case.toml --loosest 0", ("--loosest",)),
    Call("loose from no number", "sensitivity cases/case.toml --loosest nan", ("--loosest",)),
    Call("clearances in words", "sensitivity cases/case.toml --clearances tight", ("--clearances", "tight", "0.2,0.4,0.6")),
    Call("clearances with a gap", "sensitivity cases/case.toml --clearances 0.2,,0.4", ("--clearances", "0.2,0.4,0.6")),
    Call("clearances of nothing", "sensitivity cases/case.toml --clearances ''", ("--clearances", "0.2,0.4,0.6")),
    Call("a clearance below nought", "sensitivity cases/case.toml --clearances=-1,0.5", ("cases/case.toml", "orthosis.clearance_mm = -1", "from 0 to 6")),
    Call("a clearance beyond the kind", "sensitivity cases/case.toml --clearances 0.5,60", ("cases/case.toml", "orthosis.clearance_mm = 60", "from 0 to 6")),
    Call("a clearance that is no number", "sensitivity cases/case.toml --clearances nan", ("orthosis.clearance_mm = nan", "from 0 to 6")),
    Call("a clearance without end", "sensitivity cases/case.toml --clearances inf", ("orthosis.clearance_mm = inf", "from 0 to 6")),
    Call("scan nobody", "sensitivity cases/case.toml --scan-draws 0", ("--scan-draws",)),
    Call("scan everybody", "sensitivity cases/case.toml --scan-draws 100000000000", ("--scan-draws",)),
    Call("study with no worker", "sensitivity cases/case.toml --workers 0", ("--workers",)),
    Call("study on no address", "sensitivity cases/case.toml --draws 16 --scheduler nonsense", ("--scheduler nonsense", "tcp://host:8786")),
    Call("study into a file", "sensitivity cases/case.toml --out cases/list.csv", ("list.csv", "--out")),
]  # fmt: skip

SHEET = [
    Call("a sheet of a kind there is not", "sheet malet", ("KIND", '"malet"', "mallet")),
    Call("a sheet of a path", "sheet ../../x", ("KIND", "known are")),
    Call("a sheet of an empty kind", "sheet ''", ("KIND", "known are")),
    Call("sheets of two kinds", "sheet mallet pip_extension", ("pip_extension",)),
    Call("a sheet in French", "sheet --language fr", ("--language fr", '"de", "en"')),
    Call("a sheet in no language", "sheet --language ''", ("--language", '"de", "en"')),
    Call("a sheet in a path", "sheet --language ../en", ("--language", '"de", "en"')),
    Call("a sheet on A3", "sheet --paper a3", ("--paper", '"a4", "letter"')),
    Call("a sheet on A4, in capitals", "sheet --paper A4", ("--paper", '"a4"')),
    Call("sheets into a file", "sheet --out cases/list.csv", ("list.csv", "--out")),
    Call("sheets where nobody can write", "sheet --out /proc/nowhere", ("/proc/nowhere", "--out")),
    Call("sheets into a long name", f"sheet mallet --out {'o' * 300}", ("ooo", "--out")),
    Call("a sheet as json", "sheet --json", ("--json",)),
]  # fmt: skip

REMAKE = [
    Call("no record", "remake", ("RECORD",)),
    Call("no such record", "remake cases/none.json", ("cases/none.json", "record.json")),
    Call("a folder for a record", "remake cases", ("cases", "record.json")),
    Call("a case for a record", "remake cases/case.toml", ("cases/case.toml", "record.json")),
    Call("an empty record", "remake r.json", ("r.json", "record.json"), {"r.json": ""}),
    Call("a record of a list", "remake r.json", ("r.json", "record.json"), {"r.json": "[]"}),
    Call("a record of a number", "remake r.json", ("r.json", "record.json"), {"r.json": "1"}),
    Call("a record of nothing", "remake r.json", ("r.json", "record.json"), {"r.json": "{}"}),
    Call("a record that is cut off", "remake r.json", ("r.json", "record.json"), {"r.json": record()[:300]}),
    Call("a record of bytes", "remake r.json", ("r.json: line 1", "UTF-8"), {"r.json": b"\xff\x00\xff"}),
    Call("a record nested deeply", "remake r.json", ("r.json", "record.json"), {"r.json": "[" * 100_000}),
    Call("a record of tables nested deeply", "remake r.json", ("r.json", "record.json"), {"r.json": '{"a":' * 50_000}),
    Call("a record far too large", "remake r.json", ("r.json", "at most 10000000", "is it a record?"), {"r.json": b" " * 20_000_000}),
    Call("a record of a newer program", "remake r.json", ("r.json", "format = 99", "format 1"), {"r.json": record("format", 99)}),
    Call("a record of no format", "remake r.json", ("r.json", "format"), {"r.json": record("format", ...)}),
    Call("a record without parts", "remake r.json", ("r.json", "record.json"), {"r.json": record("parts", ...)}),
    Call("a record with parts in a list", "remake r.json", ("r.json", "parts"), {"r.json": record("parts", [1])}),
    Call("a record with a part as a text", "remake r.json", ("r.json", "parts"), {"r.json": record("parts.orthosis", "x")}),
    Call("a record with a part without a hash", "remake r.json", ("r.json", "parts"), {"r.json": record("parts.orthosis", {})}),
    Call("a record with a case as a text", "remake r.json", ("r.json", "remade_from"), {"r.json": record("remade_from", "x")}),
    Call("a record without a print", "remake r.json", ("r.json", "print"), {"r.json": record("remade_from.print", ...)}),
    Call("a record of no material", "remake r.json", ("r.json", "print.material"), {"r.json": record("remade_from.print.material", ...)}),
    Call("a record of a listed material", "remake r.json", ("r.json", "print.material"), {"r.json": record("remade_from.print.material", ["petg"])}),
    Call("a record with its material as a text", "remake r.json", ("r.json", "material"), {"r.json": record("material", "petg")}),
    Call("a record with half a material", "remake r.json", ("r.json", "material.modulus_mpa", "missing"), {"r.json": record("material.modulus_mpa", ...)}),
    Call("a record with a bed of nothing", "remake r.json", ("r.json", "printer.bed_width_mm.value"), {"r.json": record("printer.bed_width_mm.value", -1)}),
    Call("a record with an unknown kind", "remake r.json", ("r.json", "orthosis.kind", "pip_extension"), {"r.json": record("remade_from.orthosis.kind", "glove")}),
    Call("a record with a hostile code", "remake r.json", ("r.json", "case.code", "letters a to z"), {"r.json": record("remade_from.case.code", "../../../tmp/x")}),
    Call("a record with a device's code", "remake r.json", ("r.json", "case.code", "device"), {"r.json": record("remade_from.case.code", "nul")}),
    Call("a record with an impossible wall", "remake r.json", ("r.json", "orthosis.wall_mm = 99"), {"r.json": record("remade_from.orthosis.wall_mm", 99)}),
    Call("a record with a wall that is no number", "remake r.json", ("r.json", "orthosis.wall_mm = nan"), {"r.json": record("remade_from.orthosis.wall_mm", float("nan"))}),
    Call("a record into a file", "remake cases/record.json --out cases/list.csv", ("list.csv", "--out")),
    Call("two records", "remake cases/record.json cases/record.json", ("record.json",)),
]  # fmt: skip

MODELS = [
    *_one("model", "model.toml", [
        ("a pose there is not", {"model.pose": '"fist"'}, ("model.pose", '"mallet"')),
        ("a body there is not", {"model.body": '"arm"'}, ("model.body", '"finger", "hand"')),
        ("bent and bent back", {"model.pip_flexion_deg": "20", "model.pip_hyperextension_deg": "10"}, ("model.pip_hyperextension_deg = 10", "give one")),
        ("a joint folded over", {"model.pip_flexion_deg": "150"}, ("pip_flexion_deg = 150", "from 0 to 100")),
        ("hinges in a hand", {"model.body": '"hand"', "model.is_jointed": "true"}, ("model.is_jointed", 'body = "finger"')),
        ("hinges as a number", {"model.is_jointed": "1"}, ("model.is_jointed = 1", "true or false")),
        ("a label like a letter", {"model.label": f'"{"x" * 25}"'}, ("model.label", "24")),
        ("an empty label", {"model.label": '""'}, ("model.label",)),
        ("a label of another script", {"model.label": '"腱鞘"'}, ("model.label", "腱鞘")),
        ("letters too high for the stand", {"model.letter_height_mm": "9"}, ("letter_height_mm = 9", "at most 7")),
        ("a magnet through the stand", {"model.socket.style": '"magnet"', "model.socket.depth_mm": "12"}, ("socket.depth_mm = 12", "at most 7")),
        ("a socket of glue", {"model.socket.style": '"glue"'}, ("model.socket.style", '"none", "magnet", "screw"')),
        ("a model of a mouse", {"model.scale": "0.01"}, ("model.scale = 0.01", "from 0.3 to 1.5")),
        ("a model of no size", {"model.scale": "nan"}, ("model.scale = nan", "from 0.3 to 1.5")),
        ("a teaching line there is not", {"model.teaching_line": '"nerve"'}, ("model.teaching_line", '"tendon"')),
        ("a forearm of a metre", {"model.forearm_mm": "1000"}, ("forearm_mm = 1000", "from 20 to 200")),
        ("an orthosis in a model", {"orthosis.kind": '"mallet"'}, ("orthosis", "not a known key")),
        ("a model without a pose's table", {"model.pose": None}, ("model is missing", "[model]")),
        ("a model with a code that climbs", {"case.code": '"../x"'}, ("case.code", "letters a to z")),
        ("a model with a device's code", {"case.code": '"prn"'}, ("case.code", "device")),
        ("a model of no material", {"print.material": '"clay"'}, ("print.material", '"clay"', "known are")),
        ("a model of a misspelt key", {"model.poze": '"mallet"'}, ("model.poze", "model.pose")),
        ("a model of impossible girths", {"measured.middle.dip_girth_mm": "90"}, ("dip_girth_mm = 90", "at most 69")),
    ]),
    Call("no model", "model", ("CASE",)),
    Call("a model of no file", "model cases/none.toml", ("cases/none.toml", "no such file")),
    Call("a model of a folder", "model cases", ("is a folder",)),
    Call("a model of an orthosis case", "model cases/case.toml", ("orthosis", "not a known key", "model is missing")),
    Call("a model in no format", "model cases/model.toml --formats html", ("--formats", "html", "stl, 3mf")),
    Call("a model in nothing", "model cases/model.toml --formats ,", ("--formats", "stl, 3mf")),
    Call("a model into a file", "model cases/model.toml --out cases/list.csv", ("list.csv", "--out")),
    Call("a model where a file is", "model cases/model.toml --out taken", ("taken/PY-900", "--out"), {"taken/PY-900": "mine"}),
    Call("a neutral model with an orthosis", "model cases/model.toml --with-orthosis --formats stl", ("model.pose", "neutral"), {"cases/model.toml": {"model.pose": '"neutral"'}}),
]  # fmt: skip

CLASS_SET = [
    Call("no list", "class-set", ("LIST",)),
    Call("no such list", "class-set cases/none.csv", ("cases/none.csv", "no such file")),
    Call("no such list in TOML", "class-set cases/none.toml", ("cases/none.toml", "no such file")),
    Call("a folder for a list", "class-set cases", ("cases", "is a folder")),
    Call("an empty list", "class-set l.csv", ("l.csv", "case.code"), {"l.csv": ""}),
    Call("a list of a head alone", "class-set l.csv", ("l.csv: 0 rows", "1 to 500"), {"l.csv": "case.code,case.side\n"}),
    Call("a list without codes", "class-set l.csv", ("l.csv", "case.code"), {"l.csv": "code,side\nT-1,left\n"}),
    Call("a list of 501", "class-set l.csv", ("l.csv: 501 rows", "1 to 500"), {"l.csv": "case.code\n" + "T\n" * 501}),
    Call("a list of bytes", "class-set l.csv", ("l.csv", "UTF-8"), {"l.csv": b"\xff\xfec\0a\0"}),
    Call("a list far too large", "class-set l.csv", ("l.csv", "at most 1000000"), {"l.csv": b"case.code\n" + b"T,\n" * 500_000}),
    Call("a list with a column twice", "class-set l.csv", ("l.csv", "column \"case.code\"", "twice"), {"l.csv": "case.code,case.code\nT-1,T-2\n"}),
    Call("a list with a column under a value", "class-set l.csv", ("l.csv", "case.code", "case"), {"l.csv": "case,case.code\nx,T-1\n"}),
    Call("a list with a value under a column", "class-set l.csv", ("l.csv", "case.code.deep"), {"l.csv": "case.code,case.code.deep\nT-1,x\n"}),
    Call("a row longer than the head", "class-set l.csv", ("l.csv, line 2", "3 cells", "2 columns"), {"l.csv": "case.code,case.side\nT-1,left,middle\n"}),
    Call("a cell of a million letters", "class-set l.csv", ("l.csv",), {"l.csv": "case.code\n" + "T" * 300_000 + "\n"}),
    Call("a list of very many columns", "class-set l.csv", ("l.csv: 400 columns", "at most 300"), {"l.csv": "case.code," + ",".join(f"c{n}" for n in range(399)) + "\n"}),
    Call("a list of columns nested deeply", "class-set l.csv", ("l.csv",), {"l.csv": "case.code," + ".".join("a" * 3000) + "\nT-1,x\n"}),
    Call("a quote that never ends", "class-set l.csv", ("l.csv",), {"l.csv": 'case.code,case.side\n"T-1,left\n'}),
    Call("a list that is a case", "class-set cases/case.toml", ("cases/case.toml", "[[models]]")),
    Call("a list of one table", "class-set l.toml", ("l.toml", "[[models]]"), {"l.toml": "[models]\nx = 1\n"}),
    Call("a list of nothing", "class-set l.toml", ("l.toml: 0 rows",), {"l.toml": "models = []\n"}),
    Call("defaults as a number", "class-set l.toml", ("l.toml", "[defaults]"), {"l.toml": "defaults = 1\n[[models]]\nx = 1\n"}),
    Call("a list that is no TOML", "class-set l.toml", ("l.toml: line 1", "not TOML"), {"l.toml": "models\n"}),
    Call("a list with a name that climbs", "class-set 'cases/a b.csv'", ("a b.csv", "letters a to z, digits")),
    Call("a list with a device's name", "class-set nul.csv", ("nul.csv", "device"), {"nul.csv": LIST}),
    Call("a list into a file", "class-set cases/list.csv --out cases/list.csv", ("list.csv", "--out")),
    Call("a list with no worker", "class-set cases/list.csv --workers 0", ("--workers",)),
    Call("a list of no material", "class-set cases/list.csv --material clay", ("--material clay", "known are")),
    Call("a list for no printer", "class-set cases/list.csv --printer press", ("--printer press", "known are")),
]  # fmt: skip

SCHEMA = [
    Call("the schema of a kind", "schema mallet", ("mallet",)),
    Call("the schema of nothing", "schema --of", ("--of",)),
    Call("the schema of a thing there is not", "schema --of modl", ("--of modl", 'the nearest is "model"', "known are")),
    Call("the schema into a file", "schema --out x.json", ("--out",)),
    Call("the schema as json", "schema --json", ("--json",)),
]  # fmt: skip

CALLS = [
    *BUILD, *FILES, *SHELVES, *CHECK, *SUGGEST, *SERIES, *COMPARE, *SENSITIVITY, *SHEET, *REMAKE, *CLASS_SET, *SCHEMA,
    # guard: a table of many wrong calls
    *MODELS,
]  # fmt: skip
