"""The one base of all record types: immutable, strict about unknown names, able to give its JSON schema."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Frozen(BaseModel):
    """An immutable record; an unknown name is an error, not a silent loss."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, allow_inf_nan=False)
