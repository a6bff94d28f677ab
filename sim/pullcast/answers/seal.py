"""Digests of a document in parts: canonical bytes of each part, and one seal over them all."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from pullcast.errors import InputError


def canonical(value: Any) -> bytes:
    """The one UTF-8 text of a JSON value: keys sorted, no spaces, every number to its last digit.

    Raises InputError for what JSON cannot hold (a number that is not finite, an object).

    >>> canonical({"b": [1.0, None], "a": "°"}) == canonical({"a": "°", "b": [1.0, None]})
    True
    """
    try:
        return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode()
    except (TypeError, ValueError) as error:
        msg = f"this cannot be sealed: {error}"
        raise InputError(msg) from None


def digests_of(parts: Mapping[str, Any]) -> dict[str, str]:
    """SHA-256 (hex) of the canonical bytes of every part."""
    return {label: hashlib.sha256(canonical(value)).hexdigest() for label, value in parts.items()}


def seal_of(layout: int, digests: Mapping[str, str]) -> str:
    """SHA-256 (hex) over the digests of all parts, their labels and the layout of the document."""
    return hashlib.sha256(canonical({"layout": layout, "sha256": dict(digests)})).hexdigest()
