"""The formats that a build can write, by the names of `--formats`."""

ALL = ("stl", "3mf", "step", "png", "json", "html", "pattern", "sheets", "record")
"""In the order in which they are listed; a record is written last, as it holds the hashes of all others."""
FORMATS = frozenset(ALL)
OF_FINDINGS = frozenset(("json", "html", "sheets", "record"))
"""Those that say whether the checks hold."""
