"""What all tables of ``plan.json`` have in common."""

from __future__ import annotations

import math
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Number = Annotated[float, Field(allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0)]


class Record(BaseModel):
    """A table of the document."""

    model_config = ConfigDict(extra="forbid", frozen=True, use_attribute_docstrings=True)


def rounded(value: float) -> float:
    """Milliseconds or micrometres; adding 0 turns -0 into 0."""
    return round(float(value), 3) + 0.0


def known(value: float | None) -> float | None:
    """A cost or place that is no number counts as not computed."""
    return rounded(value) if value is not None and math.isfinite(value) else None
