"""Every number that a verdict, an angle or a word to a therapist hangs on is what it was when somebody last looked at its source.

What is recorded, and how it is brought up to date: tests/guards/pins.py. That a change of a tenth is found: tests/guards/test_pinned_numbers.py.
"""

from tests.guards.pins import differences, pinned


def test_no_number_has_changed() -> None:
    assert differences() == []


def test_every_number_says_where_it_comes_from() -> None:
    assert [name for name, (_, source) in pinned().items() if len(source) < 5] == []
    assert len(pinned()) > 700
