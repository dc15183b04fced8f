"""Points and outlines as the shop's files give them."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from kerfwright.shop.machine import Finite

Point = tuple[Finite, Finite]

Ring = Annotated[tuple[Point, ...], Field(min_length=3)]
