"""Photos: facts from originals, and clean, upright, marked pictures for the site.

Originals are opened for reading only. `PhotoStore` is the door; the names below are all that
other parts use.
"""

from journal.media.photos.cache import Picture, Rendition
from journal.media.photos.rendition import LONG_EDGES
from journal.media.photos.store import Examined, PhotoStore, PictureJob, examine_file
from journal.media.photos.watermark import missing_letters

__all__ = [
    "LONG_EDGES",
    "Examined",
    "PhotoStore",
    "Picture",
    "PictureJob",
    "Rendition",
    "examine_file",
    "missing_letters",
]
