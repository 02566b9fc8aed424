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


class _Reducers(dict[type, Callable[[object], tuple[type, tuple[object, ...]]]]):
    """Of a record only its fields: what dataclasses bring for pickling takes five times as long."""

    def __missing__(self, kind: type) -> Callable[[object], tuple[type, tuple[object, ...]]]:
        names = [one.name for one in fields(kind)] if is_dataclass(kind) else []
        if kind is MappingProxyType:
            self[kind] = lambda thing: (dict, (dict(thing),))  # type: ignore[call-overload]
        elif len(names) > 1:
            get = attrgetter(*names)
            self[kind] = lambda thing: (kind, get(thing))
        else:
            raise KeyError(kind)
        return self[kind]


_REDUCERS = _Reducers()


def packed(thing: object) -> bytes:
    """`thing` as bytes that are the same where everything in it is; they are never read again. A set has no order that
    holds from one run to the next, so nothing that is packed may hold one, nor itself.
    """
    out = io.BytesIO()
    packer = pickle.Pickler(out, pickle.HIGHEST_PROTOCOL)
    packer.dispatch_table = _REDUCERS
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
