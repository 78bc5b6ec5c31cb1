"""The published JSON Schema of type and airframe files, for editors and other programs."""

from __future__ import annotations

from typing import Any, Final, Literal

from voicecheck.checklist.model import AirframeFile, TypeFile

SchemaName = Literal["type", "airframe"]
_DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"


def json_schema(name: SchemaName) -> dict[str, Any]:
    """JSON Schema (draft 2020-12) derived from the model."""
    model = TypeFile if name == "type" else AirframeFile
    return {"$schema": _DIALECT, **model.model_json_schema()}
