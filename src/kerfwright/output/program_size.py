"""How large a program is, and what arcs make of it."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from kerfwright.findings import number_of
from kerfwright.output.text import file_size

Count = Annotated[int, Field(ge=0)]


class ProgramSize(BaseModel):
    """Size of a program."""

    model_config = ConfigDict(extra="forbid", frozen=True, use_attribute_docstrings=True)

    lines: Count
    """Lines of the program."""
    bytes: Count
    """Bytes of the program."""
    bytes_without_arcs: Count | None = None
    """What it would have with straight moves only; null where it has no arcs."""

    @property
    def in_words(self) -> str:
        """Lines and size, and the size without arcs where it has any."""
        words = f"{number_of(self.lines, 'line')}, {file_size(self.bytes)}"
        if self.bytes_without_arcs is None:
            return words
        return f"{words}; {file_size(self.bytes_without_arcs)} without arcs"
