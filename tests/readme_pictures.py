"""The pictures that README.md shows, one of each kind, as `print3d build --formats png` makes them, in fewer colours to keep them small.

    python -m tests.readme_pictures

Writes outputs/pictures/<name of the case>.png.
"""

import io

from PIL import Image

from print3d import flow
from print3d.kinds.registry import KINDS
from print3d.output.pictures.of_case import views_of
from tests.readme_kinds import ROOT, case_of

FOLDER = ROOT / "outputs" / "pictures"
CASES = [case_of(kind) for kind in KINDS.values()]
# guard: pictures: as the tool makes them
COLOURS, SCALE = 256, 0.75
MOST_BYTES = 150_000


def picture(name: str) -> Image.Image:
    """Return the views of a worked case with few colours."""
    case = flow.read(ROOT / "params" / "cases" / f"{name}.toml")
    full = Image.open(io.BytesIO(views_of(flow.shape(case)))).convert("RGB")
    smaller = full.resize((round(full.width * SCALE), round(full.height * SCALE)), Image.Resampling.LANCZOS)
    return smaller.quantize(COLOURS, method=Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE)


def main() -> None:
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name in CASES:
        path = FOLDER / f"{name}.png"
        picture(name).save(path, optimize=True)
        print(f"{path.relative_to(ROOT)}: {path.stat().st_size / 1000:.0f} kB", flush=True)


if __name__ == "__main__":
    main()
