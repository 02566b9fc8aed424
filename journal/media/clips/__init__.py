"""Short films: what an original says of itself, and the clean copy that the site shows.

Originals are opened for reading only. `ClipStore` is the door; it stands beside `PhotoStore`.
"""

from journal.media.boxes import uncleanliness
from journal.media.clips.facts import ClipFacts, clip_facts, read_clip_facts
from journal.media.clips.look import sniff_container
from journal.media.clips.store import ClipStore, Film

__all__ = [
    "ClipFacts",
    "ClipStore",
    "Film",
    "clip_facts",
    "read_clip_facts",
    "sniff_container",
    "uncleanliness",
]
