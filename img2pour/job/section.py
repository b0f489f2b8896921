"""What all sections of a job share."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict

from img2pour.units import parse_length


class Section(BaseModel):
    """A part of the job: it cannot be changed once built, and knows no other names."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, defer_build=True)


def typed(text: str) -> Any:
    """Return a length as a default, kept as it would be typed."""
    return parse_length(text, sign="any")
