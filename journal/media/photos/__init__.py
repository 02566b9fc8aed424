"""Photos: facts from originals, and clean, upright, marked pictures for the site.

Originals are opened for reading only. `PhotoStore` is the door; the names below are all that
other parts use.
"""

from journal.media.photos.cache import Picture, Rendition
from journal.media.photos.index import Examined
from journal.media.photos.kinds import CLIP_ENDINGS, PICTURE_ENDINGS, is_clip_name, is_picture_name
from journal.media.photos.rendition import LONG_EDGES
from journal.media.photos.store import PhotoStore, PictureJob
from journal.media.photos.watermark import missing_letters
from journal.media.photos.workers import Progress

__all__ = [
    "CLIP_ENDINGS",
    "LONG_EDGES",
    "PICTURE_ENDINGS",
    "Examined",
    "PhotoStore",
    "Picture",
    "PictureJob",
    "Progress",
    "Rendition",
    "is_clip_name",
    "is_picture_name",
    "missing_letters",
]
