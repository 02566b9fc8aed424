"""Pictures as templates place them: the right width for the screen, sized, with caption and day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from journal.base.formatting import say_date
from journal.base.model import Edits, Photo
from journal.base.words import _

PICTURES = "pictures/"


class RenditionLike(Protocol):
    """What this module needs to know of a rendition (see `journal.media.photos`)."""

    @property
    def width_px(self) -> int: ...  # noqa: D102
    @property
    def height_px(self) -> int: ...  # noqa: D102
    @property
    def name(self) -> str: ...  # noqa: D102


class PictureLike(Protocol):
    """A published picture: renditions in ascending width, none where the file cannot be used."""

    @property
    def renditions(self) -> Sequence[RenditionLike]: ...  # noqa: D102
    @property
    def trouble(self) -> str: ...  # noqa: D102


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureBox:
    """A picture to place. `addresses` and `widths` (of each, in pixels) are ascending; empty where
    only a placeholder can stand.

    `width` and `height` give the shape (of the largest). `when` says the capture day, in the
    archive the time with its offset; empty where unknown to the public. `original` is the link
    to the untouched file and `edits` how the picture differs from it, in the archive only. `anchor` is the picture's
    id on its entry's page. `film` is the address of the film that the picture stands for; `trouble` is said in the
    place of what cannot be shown.
    """

    addresses: tuple[str, ...] = ()
    widths: tuple[int, ...] = ()
    width: int = 0
    height: int = 0
    alt: str
    caption: str
    when: str = ""
    anchor: str = ""
    edits: str = ""
    original: str = ""
    film: str = ""
    step: str = ""
    step_address: str = ""
    at_work: str = ""
    inside: bool = False
    private: bool = False
    trouble: str = ""

    @property
    def usable(self) -> bool:
        """Whether there is a picture to show."""
        return bool(self.addresses)

    @property
    def smallest(self) -> str:
        """The address for thumbnails."""
        return self.addresses[0]

    @property
    def middle(self) -> str:
        """The address of what a browser without `srcset` shows."""
        return self.addresses[len(self.addresses) // 2]

    @property
    def largest(self) -> str:
        """The address of what enlarging shows."""
        return self.addresses[-1]

    @property
    def tall(self) -> bool:
        """Whether the picture is higher than wide."""
        return self.height > self.width


def say_capture(photo: Photo, *, everything: bool) -> str:
    """When a picture was taken: the day for followers, the recorded time for the inspector."""
    facts = photo.facts
    if not everything:
        return say_date(facts.taken.date()) if facts.taken else ""
    if facts.taken is None:
        return _("capture time not recorded")
    offset = facts.offset or _("offset not recorded")
    said = f"{say_date(facts.taken.date())}, {facts.taken:%H:%M:%S} ({offset})"
    return said if facts.clock_set else _("{said}, camera clock never set", said=said)


def say_edits(edits: Edits) -> str:
    """`shown cropped, turned`: how what is shown differs from what was taken; "" where it does not."""
    told = ((edits.crop, _("cropped")), (edits.blur, _("filled in")), (edits.turn, _("turned")))
    how = ", ".join(word for said, word in told if said)
    return _("shown {how}", how=how) if how else ""


def plan_picture(
    photo: Photo,
    pictures: Mapping[str, PictureLike],
    *,
    number: int,
    of: str,
    everything: bool,
    step_addresses: Mapping[str, str],
) -> PictureBox:
    """The box of `photo`, the `number`th picture of the entry titled `of`."""
    picture = pictures.get(photo.src_uri)
    renditions = picture.renditions if picture else ()
    trouble = (picture.trouble if picture else "") or photo.facts.trouble
    width, height = (
        (renditions[-1].width_px, renditions[-1].height_px)
        if renditions
        else (photo.facts.width or 4, photo.facts.height or 3)
    )
    return PictureBox(
        addresses=tuple([PICTURES + rendition.name for rendition in renditions]),
        widths=tuple([rendition.width_px for rendition in renditions]),
        width=width,
        height=height,
        alt=photo.caption or _("Picture {number} of “{of}”", number=number, of=of),
        caption=photo.caption,
        when=say_capture(photo, everything=everything),
        anchor=f"photo-{number}",
        edits=say_edits(photo.edits) if everything else "",
        original=f"source/{photo.src_uri}" if everything else "",
        step=photo.step or "",
        step_address=step_addresses.get(photo.step or "", ""),
        at_work=", ".join(photo.people),
        inside=photo.inside,
        private=photo.private,
        trouble="" if renditions else _("No picture: {trouble}", trouble=trouble or _("not available")),
    )
