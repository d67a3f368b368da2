"""Every kind, by the name a case file uses. Adding a kind is one new file and one line here."""

from collections.abc import Mapping

from print3d.orthoses import figure_of_eight, mallet, pip_extension
from print3d.orthoses.kind import Kind

KINDS: Mapping[str, Kind] = {kind.name: kind for kind in (pip_extension.KIND, mallet.KIND, figure_of_eight.KIND)}
