"""Links between pages: relative everywhere, so a site works under any path and from a file address."""

from __future__ import annotations

import posixpath
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from urllib.parse import quote, unquote

_KEPT_SCHEMES = ("http:", "https:", "mailto:", "tel:")


@lru_cache(maxsize=65_536)
def _quoted(address: str) -> str:
    return quote(address, safe="/#?=&;~:@!$'()*+,-._%")


@dataclass(frozen=True, slots=True, kw_only=True)
class Linker:
    """Turns addresses (relative to the root of the site) into links from one page.

    `root` is what leads from the page to the root: `""`, `"../../"`, or an absolute address
    ending in `/`. `offline` writes `index.html` out, as a file address needs it.
    """

    root: str
    offline: bool = False

    def to(self, address: str) -> str:
        """The link to `address`, which may carry `?query` (quoted) and `#fragment`."""
        path, hash_mark, fragment = address.partition("#")
        path, question, query = path.partition("?")
        if self.offline and (not path or path.endswith("/")):
            path += "index.html"
        link = self.root + _quoted(path)
        return (link or "./") + question + query + hash_mark + quote(fragment)


def linker_for(address: str, *, offline: bool = False) -> Linker:
    """The linker of the page at `address` (`entries/x/` -> root `../../`)."""
    return Linker(root="../" * address.count("/"), offline=offline)


def is_kept_elsewhere(target: str) -> bool:
    """Whether an outside link may stand: web, mail and telephone only, no script, no file."""
    return target.startswith("//") or target.lower().startswith(_KEPT_SCHEMES)


def resolve(target: str, src_uri: str, addresses: Mapping[str, str]) -> str | None:
    """The address that a relative link in the file `src_uri` means, or None where it leads to nothing.

    `addresses` maps what can be linked to, as `src_uri`s (`content/entries/x/index.md`) and
    folders (`content/entries/x`), to addresses. A fragment is carried over.
    """
    path, hash_mark, fragment = target.partition("#")
    if not path:
        return None
    joined = posixpath.normpath(posixpath.join(posixpath.dirname(src_uri), unquote(path)))
    address = addresses.get(joined)
    return None if address is None else address + hash_mark + fragment
