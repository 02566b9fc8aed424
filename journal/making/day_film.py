"""The film of a day: the title card, then what an entry shows, each thing in its turn, planned before anything is made.

Everything comes from a view, so nothing gets in that its audience may not see; pictures come as they are published.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

from babel.core import get_global

from journal.base.byte_progress import Progress, silent
from journal.base.capture_order import in_capture_order
from journal.base.model import Clip, Photo, PhotoFacts
from journal.base.problems import Problem
from journal.base.words import language_of
from journal.ledger.films import clip_unreadable
from journal.ledger.journal import CACHE, photo_store
from journal.making.lay_site import picture_job, picture_unreadable
from journal.making.link_cards import plan_card
from journal.media.clips import ClipFacts, ClipStore, clip_facts
from journal.media.clips.joined import Scene, Stage, reading_seconds
from journal.media.photos import Picture
from journal.media.photos.rendition import make_recipe
from journal.site.cards import LinkCard
from journal.site.film_frames import Size, above_strip, render_still, render_strip, render_title_card
from journal.site.site_context import SiteContext
from journal.view.view import ShownEntry, View

TITLE_SECONDS = Decimal(5)
STILL_SECONDS = Decimal(4)
"""How long the title and a picture stand there; a picture longer where its caption takes longer to read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DayFilm:
    """What the film will be. The title is the first of `scenes`; `problems` tell what is not in it, and why."""

    scenes: tuple[Scene, ...]
    stage: Stage
    size: Size
    problems: tuple[Problem, ...]

    @property
    def seconds(self) -> int:
        """How long it will be, about."""
        return int(sum(scene.seconds for scene in self.scenes))

    @property
    def bytes(self) -> int:
        """What it will weigh, about."""
        moving = sum(scene.seconds for scene in self.scenes if scene.path)
        pixels = self.size[0] * self.size[1]
        return int(pixels * (_STILL_WEIGHT * (self.seconds - moving) + _MOVING_WEIGHT * moving))


_STILL_WEIGHT, _MOVING_WEIGHT = Decimal("0.03"), Decimal("0.15")
"""Bytes of a pixel in a second of film; a handheld clip may weigh twice as much, a quiet one a quarter."""


def plan_day_film(
    root: Path, view: View, entry: ShownEntry, size: Size, *, credit: str = "", progress: Progress = silent
) -> DayFilm:
    """The film of `entry` in a frame of `size`, its pictures rendered as the site shows them (with `credit`, so that
    they are the same). Raises OSError where the cache cannot be written.
    """
    card = plan_card(SiteContext(view, {}), entry)
    strip = render_strip(card, size)
    store = ClipStore(root, root / CACHE / "clips", view.photo_settings)
    clips = {clip.name: store.examine(clip.src_uri) for clip in entry.clips}
    jobs = {photo.name: picture_job(photo, view.photo_settings, credit) for photo in entry.photos if photo.sha256}
    made = photo_store(root).render(list(jobs.values()), progress)
    pictures = {name: made[job] for name, job in jobs.items()}
    scenes, problems = [_title(card, entry, size)], []
    for shown in _in_order(root, view, entry):
        step = view.steps.get(shown.step or "")
        chapter = f"{step.id} {step.title}".strip() if step else entry.assembly.title
        scene: Scene | str
        if isinstance(shown, Photo):
            scene = _still(shown, pictures.get(shown.name, Picture(trouble=shown.facts.trouble)), chapter, strip, size)
        else:
            scene = _moving(root, shown, clips[shown.name][1:], chapter)
        if isinstance(scene, str):
            told = picture_unreadable if isinstance(shown, Photo) else clip_unreadable
            problems.append(told(entry.src_uri, shown.name, scene))
        else:
            scenes.append(scene)
    ground = render_still(None, strip, size)
    recipe = make_recipe(view.photo_settings)
    stage = Stage(ground=ground, box=above_strip(size), recipe=recipe, language=three_letters(view.language))
    return DayFilm(scenes=tuple(scenes), stage=stage, size=size, problems=tuple(problems))


def _title(card: LinkCard, entry: ShownEntry, size: Size) -> Scene:
    title = entry.title or entry.assembly.title
    return Scene(name="", chapter=title, seconds=TITLE_SECONDS, still=partial(render_title_card, card, size))


def _still(photo: Photo, picture: Picture, chapter: str, strip: bytes, size: Size) -> Scene | str:
    """The scene, or why there is none."""
    if not picture.renditions:
        return picture.trouble or "not available"
    return Scene(
        name=photo.name,
        chapter=chapter,
        caption=photo.caption,
        seconds=max(STILL_SECONDS, reading_seconds(photo.caption)),
        still=partial(render_still, picture.renditions[-1].path, strip, size),
    )


def _moving(root: Path, clip: Clip, known: tuple[int, str], chapter: str) -> Scene | str:
    seconds, trouble = known
    if trouble:
        return trouble
    end = min(clip.cut.end or Decimal(seconds), Decimal(seconds)) if seconds else clip.cut.end or Decimal(0)
    return Scene(
        name=clip.name,
        chapter=chapter,
        caption=clip.caption,
        seconds=max(end - (clip.cut.start or 0), Decimal(1)),
        path=root / clip.src_uri,
        cut=clip.cut,
        edits=clip.edits,
    )


def _in_order(root: Path, view: View, entry: ShownEntry) -> Iterator[Photo | Clip]:
    """Pictures and clips as they were taken, by the times of the originals: the public view knows no hours, and none
    of them gets into the film.
    """
    taken = photo_store(root).examine([photo.src_uri for photo in entry.photos])
    shown: dict[str, Photo | Clip] = {photo.name: photo for photo in entry.photos}
    shown.update((clip.name, clip) for clip in entry.clips)
    timed = [replace(photo, facts=taken[photo.src_uri].facts) for photo in entry.photos]
    for clip in entry.clips:
        when = PhotoFacts(taken=_local(clip_facts(root / clip.src_uri), view.zone))
        timed.append(Photo(name=clip.name, src_uri=clip.src_uri, facts=when))
    for one in in_capture_order(sorted(timed, key=lambda one: one.name)):
        yield shown[one.name]


def _local(facts: ClipFacts, zone: str | None) -> datetime | None:
    """When a clip was taken, by the clock on the wall: its container tells it in UTC alone."""
    if facts.taken or not facts.taken_utc:
        return facts.taken
    return facts.taken_utc.astimezone(ZoneInfo(zone) if zone else None).replace(tzinfo=None)


def three_letters(tag: str) -> str:
    """The language of a BCP 47 tag as films tell it (ISO 639-2/T, from Unicode CLDR); `und` where it is not known."""
    language = language_of(tag)
    known: Mapping[str, str] = get_global("language_aliases")
    longer = (code for code, short in known.items() if short == language and len(code) == 3)
    return language if len(language) == 3 else next(longer, "und")
