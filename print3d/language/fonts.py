"""The open font of letters, pictures and sheets: DejaVu Sans, which the matplotlib package ships as files."""

from functools import cache
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from print3d.errors import InstallationError
from print3d.language.message import message

FOLDER = "mpl-data/fonts/ttf"
WHOLE_FILE_SUM = 0xB1B0AFBA
"""All 32-bit words of a sound TrueType file add up to this (OpenType specification, head table, checksumAdjustment)."""
MEND = "pip install --force-reinstall matplotlib"


@cache
def font_file(*, is_bold: bool = False) -> Path:
    """Return the font's file; matplotlib itself is not imported. Raises InstallationError if it is missing or damaged."""
    package = find_spec("matplotlib")
    if package is None or package.origin is None:
        raise InstallationError(message("refusals.font.not_there", mend=MEND))
    file = Path(package.origin).parent / FOLDER / ("DejaVuSans-Bold.ttf" if is_bold else "DejaVuSans.ttf")
    try:
        content = file.read_bytes()
    # guard: font: unreadable
    except OSError as error:
        raise InstallationError(
            message("refusals.font.unreadable", file=str(file), reason=str(error.strerror), mend=MEND)
        ) from error
    words = np.frombuffer(content + b"\0" * (-len(content) % 4), dtype=">u4")
    # guard: font: damaged
    if int(words.sum(dtype=np.uint32)) != WHOLE_FILE_SUM:
        raise InstallationError(message("refusals.font.damaged", file=str(file), mend=MEND))
    return file
