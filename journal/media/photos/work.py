"""What is done with one original: read what it says of itself, or make the pictures of it.

Both run in a child process (`child.py`), since a decoder may crash, hang or take all memory there is. What comes back
is data: JSON, and the bytes of the pictures.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from journal.base.model import PhotoFacts
from journal.media.photos.decode import Allow, decode, memory_needed, open_stored, say_trouble, why_unusable
from journal.media.photos.edited import edited, long_edge_needed
from journal.media.photos.facts import read_facts, row_of_facts
from journal.media.photos.kinds import CHANGED, UnusableError
from journal.media.photos.originals import Opened, Print, opened
from journal.media.photos.rendition import LONG_EDGES, Encoded, Recipe, planned_sizes, render_renditions

Said = dict[str, Any]
"""What a child says of its work, as JSON holds it."""

Tell = Callable[[Said], None]
"""Sends on what is known before the work is done: should it not come to its end, so much is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Examine:
    """Digest and facts of the original at `path`."""

    path: Path

    def run(self, tell: Tell, allow: Allow) -> tuple[Said, list[bytes]]:
        """`print` and `settled` as in `Opened`, `sha256`, and `facts` as a row."""
        try:
            with opened(self.path) as original:
                known: Said = {"print": original.print, "settled": original.settled, "sha256": original.sha256()}
                tell(known)
                try:
                    facts = read_facts(original.source, allow)
                except MemoryError as error:
                    facts = PhotoFacts(trouble=say_trouble(error))
                original.check_unchanged()
                return {**known, "facts": row_of_facts(facts)}, []
        except (OSError, ValueError, MemoryError, UnusableError) as error:
            trouble = row_of_facts(PhotoFacts(trouble=say_trouble(error)))
            return {"sha256": "", "settled": False, "facts": trouble}, []


@dataclass(frozen=True, slots=True, kw_only=True)
class Render:
    """The renditions of the original at `path`, as long as it has this digest; `seen` is the print of the file that
    had it, which spares reading it for that.
    """

    path: Path
    sha256: str
    seen: Print | None
    recipe: Recipe

    def run(self, tell: Tell, allow: Allow) -> tuple[Said, list[bytes]]:
        """`sizes` and the bytes of each, smallest first; or `trouble`."""
        try:
            with opened(self.path) as original:
                # What is made from another content would be kept under the wrong key for ever.
                if original.print != self.seen and original.sha256() != self.sha256:
                    raise UnusableError(CHANGED)
                made = self._made(original, allow)
                original.check_unchanged()
        except (OSError, ValueError, MemoryError, UnusableError) as error:
            made = say_trouble(error)
        if isinstance(made, str):
            return {"trouble": made}, []
        return {"sizes": [size for size, _ in made]}, [data for _, data in made]

    def _made(self, original: Opened, allow: Allow) -> list[Encoded] | str:
        """The renditions, or why there are none."""
        try:
            stored = open_stored(original.source, allow)
            stored.check_whole()
            long_edge = long_edge_needed(stored.upright_size, self.recipe.edits, LONG_EDGES[-1])
            allow(memory_needed(stored, long_edge), stored.image.size)
            image, size = edited(*decode(stored, long_edge), self.recipe.edits)
            del stored
            return render_renditions(image, planned_sizes(size), self.recipe)
        except Exception as error:  # a decoder may raise anything at all; see decode.py
            return why_unusable(original.source, error)


Work = Examine | Render
