"""Cases built and checked once, for all tests of scenes, pictures and pages."""

import base64
import json
import re
import zlib
from functools import cache
from typing import Any

import numpy as np

from print3d.built import Built
from print3d.output.page.report import report_page
from tests.shaped import changed, checked

SMALL = ("figure_of_eight", "mallet_little_small_woman", "relative_motion_flexion")
"""A left ring that is loose across its joint, a sleeve, and a left yoke over four fingers: light cases of every kind of limb but the forearm."""


@cache
def page(name: str) -> str:
    """The report, its pictures replaced by a dot: drawing them is tested elsewhere."""
    return page_of(checked(name))


def page_of(built: Built, **changes: Any) -> str:
    """The report of a case with some things changed, its pictures replaced by a dot."""
    return report_page(changed(built, **{"advice": (), **changes}), {"views": dot()})


def dot() -> bytes:
    import io

    from PIL import Image

    file = io.BytesIO()
    Image.new("RGB", (2, 2), "white").save(file, format="PNG")
    return file.getvalue()


def unpacked(text: str) -> tuple[dict[str, Any], bytes]:
    """Head and arrays of a packed scene, read as `output/page/scene_pack.py` describes them."""
    whole = zlib.decompress(base64.b64decode(text))
    length = int.from_bytes(whole[:4], "little")
    return json.loads(whole[4 : 4 + length]), whole[4 + length :]


def columns(blob: bytes, start: int, count: int, n: int) -> np.ndarray:
    planes = np.frombuffer(blob[start : start + 3 * count * n], dtype=np.uint8).reshape(3, count, n)
    zigzag = (planes.astype(np.int64) * np.array([1, 256, 65536])[:, None, None]).sum(axis=0)
    return np.cumsum(np.where(zigzag % 2, -(zigzag + 1) // 2, zigzag // 2), axis=1)


def visible_text(html: str) -> str:
    """What a reader without scripts sees."""
    without = re.sub(r"<(script|style)\b.*?</\1>", " ", html, flags=re.DOTALL)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", without))
