"""Codes name output folders: what may stand in one on every system."""

import re

from print3d.language.message import Message, message

ACCEPTED = message("refusals.accepts.code")
CODE = r"[A-Za-z0-9_-]{1,24}"
DEVICES = {
    "con",
    "prn",
    "aux",
    "nul",
    *(f"{port}{number}" for port in ("com", "lpt") for number in range(10)),
}
"""Windows keeps these names for devices, with any ending and in any case (Microsoft, Naming Files, Paths, and Namespaces)."""


def is_device(name: str) -> bool:
    """Whether Windows takes a name for a device, so that no folder can have it."""
    return name.split(".")[0].casefold() in DEVICES


def trouble_with(name: str) -> Message | None:
    """Return what a code would have to be to name a folder, or None if it can."""
    # guard: code: on the command line
    if not re.fullmatch(CODE, name):
        return ACCEPTED
    return message("refusals.device") if is_device(name) else None
