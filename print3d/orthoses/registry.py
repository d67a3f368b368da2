"""Every kind, by the name a case file uses. Adding a kind is one new file and one line here."""

from collections.abc import Mapping

from print3d.orthoses import (
    dorsal_blocking,
    figure_of_eight,
    mallet,
    mallet_with_pip_block,
    pip_extension,
    relative_motion,
)
from print3d.orthoses.kind import Kind

KINDS: Mapping[str, Kind] = {
    kind.name: kind
    for kind in (
        pip_extension.KIND,
        mallet.KIND,
        mallet_with_pip_block.KIND,
        figure_of_eight.KIND,
        relative_motion.KIND,
        dorsal_blocking.KIND,
    )
}
