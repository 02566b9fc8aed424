"""Short films: what an original says of itself, and the clean copy that the site shows.

Originals are opened for reading only. `ClipStore` is the door; it stands beside `PhotoStore`.
"""

from journal.media.boxes import uncleanliness
from journal.media.clips.facts import ClipFacts, clip_facts, read_clip_facts
from journal.media.clips.joined import Joined, join_scenes, lay_over
from journal.media.clips.look import sniff_container
from journal.media.clips.program import FilmError
from journal.media.clips.store import ClipStore, Film

__all__ = [
    "ClipFacts",
    "ClipStore",
    "Film",
    "FilmError",
    "Joined",
    "clip_facts",
    "join_scenes",
    "lay_over",
    "read_clip_facts",
    "sniff_container",
    "uncleanliness",
]
