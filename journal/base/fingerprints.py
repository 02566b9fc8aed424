"""What tells that a record, or the program that makes something of it, is the same as at an earlier run."""

from __future__ import annotations

import hashlib
import io
import pickle
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from functools import lru_cache
from operator import attrgetter
from pathlib import Path
from types import MappingProxyType
from typing import Any


class _Packer(pickle.Pickler):
    """Of a record only its fields: what dataclasses bring for pickling takes five times as long."""

    def reducer_override(self, thing: object) -> Any:
        kind = type(thing)
        if isinstance(thing, MappingProxyType):
            return dict, (dict(thing),)
        if kind not in _FIELDS:
            names = [one.name for one in fields(kind)] if is_dataclass(kind) else []
            _FIELDS[kind] = attrgetter(*names) if len(names) > 1 else None
        get = _FIELDS[kind]
        return NotImplemented if get is None else (kind, get(thing))


_FIELDS: dict[type, Callable[[object], tuple[object, ...]] | None] = {}


def packed(thing: object) -> bytes:
    """`thing` as bytes that are the same where everything in it is; they are never read again. A set has no order that
    holds from one run to the next, so nothing that is packed may hold one, nor itself.
    """
    out = io.BytesIO()
    packer = _Packer(out, pickle.HIGHEST_PROTOCOL)
    packer.fast = True  # what was made now shares its texts otherwise than what was kept; that must not show
    packer.dump(thing)
    return out.getvalue()


@lru_cache(maxsize=1)
def code_digest() -> bytes:
    """Every module and list of ours: a change in any of them may change what is made."""
    package = Path(__file__).parents[1]
    digest = hashlib.sha256()
    for file in sorted(file for kind in ("*.py", "*.csv", "*.json", "*.typ", "*.yml") for file in package.rglob(kind)):
        digest.update(file.read_bytes())
    return digest.digest()
