"""A record is made of the same data as the sheets."""

from tests.output.paper.conftest import sheet_data

__all__ = ["sheet_data"]
