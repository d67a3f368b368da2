"""Numbers for sources, in the order in which a page names them."""

from collections.abc import Iterator

from print3d.guidance.models import SOURCED


class Sources:
    """What a page has cited so far."""

    def __init__(self) -> None:
        self._numbers: dict[tuple[str, str], int] = {}

    def cited(self, text: str) -> str:
        """Return a text with each `[source; mark]` replaced by its number."""
        return SOURCED.sub(lambda found: self.number(found["source"], found["mark"]), text)

    def place(self, source: str, mark: str) -> int:
        """Return the number of a source."""
        return self._numbers.setdefault((source, mark), len(self._numbers) + 1)

    def number(self, source: str, mark: str) -> str:
        """Return the bracket that stands for a source; what is from memory says so on the spot."""
        number = self.place(source, mark)
        return f"[{number}, from memory]" if mark == "memory" else f"[{number}]"

    def listed(self) -> Iterator[tuple[int, str]]:
        """Yield each number with its source and mark."""
        for number, source, mark in self.entries():
            yield number, f"{source} ({mark})"

    def entries(self) -> Iterator[tuple[int, str, str]]:
        """Yield number, source and mark of each."""
        yield from ((number, source, mark) for (source, mark), number in self._numbers.items())
