"""Stills and clips joined into one film with chapters, captions and even loudness, and a strip laid over a whole film.

Every scene becomes a piece of its own, all in the same form, and the pieces are joined without being encoded again: at
no time is more than one scene in memory, and one that cannot be read costs the others nothing.
"""

from __future__ import annotations

import json
import math
import re
import shutil
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from html import escape
from itertools import groupby
from pathlib import Path

from journal.base.model import UNEDITED, WHOLE, Cut, Edits, PictureTurn
from journal.media.boxes import read_box, uncleanliness, walk_boxes
from journal.media.clips.encode import (
    AAC,
    H264,
    MOST_FRAMES_A_SECOND,
    TOLD_NOTHING,
    UNSIGNED,
    between,
    blank_words,
    frame_of,
    kept,
    mark_layer,
    processor_s,
    seconds_hit,
)
from journal.media.clips.filters import shown_filters, to_sdr_filters
from journal.media.clips.look import ClipLook, look_at
from journal.media.clips.program import DAMAGED, LONGEST_S, FilmError, OnSecond, ask_ffmpeg, run_ffmpeg
from journal.media.photos.rendition import Recipe

QUALITY = 20
"""x264's constant rate factor. Finer than on the site: who puts a film on a platform has it encoded once more."""

LOUDNESS = -16
"""LUFS, at most -1.5 dB true peak. EBU R 128 asks for -23 of broadcasts and its supplement 2 for -20 to -16 of what is
streamed to small devices (from memory); measured as ITU-R BS.1770 says.
"""

_FAINTEST = -50.0  # LUFS: what is fainter is a quiet room and not raised (common practice, no source)
_LINED_UP = "aresample=async=1:first_pts=0"  # a sound may begin later than its pictures, or earlier
_LOUD = f"loudnorm=I={LOUDNESS}:TP=-1.5:LRA=11"
_SAMPLES = 48_000
_PLAIN = (
    "scale=out_color_matrix=bt709:out_range=tv,format=yuv420p,"
    "setparams=range=tv:colorspace=bt709:color_primaries=bt709:color_trc=bt709"
)
_HELD = f"{_PLAIN},loop=loop=-1:size=1:start=0"
_MOST_LONG, _MOST_SHORT = 3840, 2160

GROUND, FILM = "ground.png", "film.mp4"
NOT_WRITTEN = "it could not be written; look whether there is room on the disk, and try again"

Box = tuple[int, int, int, int]
"""Left, top, right, bottom in pixels."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One scene: a clip (`path`) as `cut` and `edits` say, or, without one, what `still` draws, a PNG of the frame's
    size, for `seconds`; of a clip these are what is expected. `name` is what it is told by.
    """

    name: str
    chapter: str
    caption: str = ""
    seconds: Decimal
    still: Callable[[], bytes] | None = None
    path: Path | None = None
    cut: Cut = WHOLE
    edits: Edits = UNEDITED


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """What all scenes share: `ground` (a PNG in the frame's size) lies behind clips, which stand in `box`; `recipe`
    says how they are marked; `language` is that of the captions, three letters of ISO 639-2.
    """

    ground: bytes
    box: Box
    recipe: Recipe
    language: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """A film that was made. By the names of clips: why which are not in it (`troubles`), and how many seconds of which
    are amiss because the original is damaged.
    """

    path: Path
    troubles: Mapping[str, str]
    seconds_amiss: Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Piece:
    scene: Scene
    path: Path
    frames: int
    sound: Path | None = None
    seconds_amiss: int = 0


def join_scenes(scenes: Sequence[Scene], stage: Stage, folder: Path, on_second: OnSecond) -> Joined:
    """The film of the scenes, the first of which is the title, made in the empty `folder`.

    `on_second` is told how many seconds of the film are done. FilmError where there is no film, or it would not be
    clean; OSError where it cannot be written.
    """
    looks, troubles = _look_at_all(scenes)
    rate = _rate([look.frames_a_second for look in looks.values()])
    (folder / GROUND).write_bytes(stage.ground)
    pieces: list[_Piece] = []
    begun = Decimal(0)
    for number, scene in enumerate(scenes):

        def tell(seconds: int, begun: Decimal = begun, most: Decimal = scene.seconds) -> None:
            on_second(int(begun + min(Decimal(seconds), most)))

        place = folder / f"{number:04d}.mp4"
        try:
            if scene.path is None:
                pieces.append(_still_piece(scene, rate, place, tell))
            elif look := looks.get(scene.name):
                pieces.append(_clip_piece(scene, look, stage, rate, place, tell))
        except FilmError as trouble:
            if scene.path is None:  # drawn here, so the fault is not in what is shown
                raise FilmError(NOT_WRITTEN) from trouble
            troubles[scene.name] = str(trouble)
        begun += scene.seconds
        on_second(int(begun))
    if troubles and len(pieces) <= 1:
        raise FilmError("none of its clips can be read")
    amiss = {piece.scene.name: piece.seconds_amiss for piece in pieces if piece.seconds_amiss}
    return Joined(path=_join(pieces, stage, rate, folder), troubles=troubles, seconds_amiss=amiss)


def lay_over(path: Path, strip: Callable[[tuple[int, int]], bytes], folder: Path, on_second: OnSecond) -> Joined:
    """The film at `path` with its sound, and over it what `strip` draws for a frame of its size, a PNG; made in the
    empty `folder`. FilmError as with `join_scenes`.
    """
    look = look_at(path)
    at_most = f"min(iw,if(gte(iw,ih),{_MOST_LONG},{_MOST_SHORT}))", f"min(ih,if(gte(iw,ih),{_MOST_SHORT},{_MOST_LONG}))"
    chain = [*_upright(look), _fit(*at_most), *to_sdr_filters(look.high_range, folder), _PLAIN]
    laid, out = folder / "strip.png", folder / FILM
    laid.write_bytes(strip(frame_of(look, folder, chain, WHOLE).size))
    over = f"[1:v]{_PLAIN.replace('yuv420p', 'yuva420p')}[s];[f][s]overlay=0:0,format=yuv420p[v]"
    complaints = run_ffmpeg(
        folder,
        [*look.source, "-i", laid.name, "-filter_complex", f"[{look.pictures}]{','.join(chain)}[f];{over}"],
        ["-map", "[v]", *(("-map", look.sound) if look.sound else ()), *TOLD_NOTHING, "-map_chapters", "-1", "-sn"],
        [*H264, "-crf", str(QUALITY), *AAC, "-b:a", "192k", *UNSIGNED, "-movflags", "+faststart", "-f", "mp4", FILM],
        processor_s=processor_s(Decimal(str(look.seconds or LONGEST_S))),
        on_second=on_second,
    )
    amiss = seconds_hit(complaints)
    return Joined(path=_clean(out, words=False), troubles={}, seconds_amiss={path.name: amiss} if amiss else {})


# -- pieces ----------------------------------------------------------------------------------------


def _look_at_all(scenes: Sequence[Scene]) -> tuple[dict[str, ClipLook], dict[str, str]]:
    """What the clips are, and why which of them cannot be read, by name."""
    looks, troubles = {}, {}
    for scene in scenes:
        if scene.path is not None:
            try:
                looks[scene.name] = look_at(scene.path)
            except FilmError as trouble:
                troubles[scene.name] = str(trouble)
    return looks, troubles


def _still_piece(scene: Scene, rate: int, place: Path, on_second: OnSecond) -> _Piece:
    assert scene.still is not None
    drawn = place.with_suffix(".png")
    drawn.write_bytes(scene.still())
    frames = round(scene.seconds * rate)
    run_ffmpeg(
        place.parent,
        ["-framerate", str(rate), "-i", drawn.name, "-vf", _HELD, "-frames:v", str(frames), *_encoded(rate, place)],
        processor_s=processor_s(scene.seconds),
        on_second=on_second,
    )
    drawn.unlink()
    return _Piece(scene=scene, path=place, frames=frames)


def _clip_piece(scene: Scene, look: ClipLook, stage: Stage, rate: int, place: Path, on_second: OnSecond) -> _Piece:
    folder, cut = place.parent, scene.cut
    start, length = kept(cut, look.seconds)
    before, after = between(look, start, cut.end)
    left, top, right, bottom = stage.box
    wide, tall = right - left, bottom - top
    if scene.edits.turn in (PictureTurn.LEFT, PictureTurn.RIGHT):  # it is made small before it is turned
        wide, tall = tall, wide
    small = [_fit(wide, tall), *to_sdr_filters(look.high_range, folder)]
    chain = [*_upright(look), *shown_filters(scene.edits, small), _PLAIN]
    frame = frame_of(look, folder, chain, replace(cut, poster=start))
    x, y = (left + right - frame.width) // 4 * 2, (top + bottom - frame.height) // 4 * 2
    layers = ["-framerate", str(rate), "-i", GROUND]
    chain.insert(0 if look.frames_a_second > rate else len(chain), f"fps={rate}:start_time=0")
    graph = f"[1:v]{_HELD}[g];[{look.pictures}]{','.join(chain)}[c];"
    if stage.recipe.mark:
        drawn, (mark_x, mark_y) = mark_layer(frame.size, stage.recipe)
        mark = place.with_suffix(".png")
        mark.write_bytes(drawn)
        layers += ["-i", mark.name]
        graph += f"[c][2:v]overlay={mark_x}:{mark_y}[m];[g][m]"
    else:
        graph += "[g][c]"
    graph += f"overlay=x={x}:y={y}:shortest=1,format=yuv420p[v]"
    complaints = run_ffmpeg(
        folder,
        [*before, *look.source, *layers, *after, "-filter_complex", graph, "-map", "[v]", *_encoded(rate, place)],
        processor_s=processor_s(length),
        on_second=on_second,
    )
    frames = _frames_in(place)
    if not frames:
        raise FilmError(DAMAGED)
    sound = None
    if cut.sound and look.sound:
        sound = _sound([*before, *look.source, *after, "-map", look.sound], place, processor_s(length))
    lost = int(length) - frames // rate
    amiss = (lost if lost > 1 else 0) + seconds_hit(complaints)
    return _Piece(scene=scene, path=place, frames=frames, sound=sound, seconds_amiss=amiss)


def _encoded(rate: int, place: Path) -> list[str]:
    """Every piece is written in the same way, or they could not be joined as they are."""
    scale = ("-g", str(2 * rate), "-video_track_timescale", str(rate * 512))
    return [*TOLD_NOTHING, "-an", *H264, "-crf", str(QUALITY), *scale, *UNSIGNED, "-f", "mp4", place.name]


def _upright(look: ClipLook) -> list[str]:
    """Whole pictures with square pixels."""
    square = "scale=w='trunc(iw*sar/2)*2':h='trunc(ih/2)*2',setsar=1"
    return ["bwdif=deint=interlaced", square] if look.interlaced else [square]


def _fit(width: object, height: object) -> str:
    """As large as fits, whole."""
    return f"scale=w='{width}':h='{height}':force_original_aspect_ratio=decrease:force_divisible_by=2"


def _frames_in(path: Path) -> int:
    with path.open("rb") as film:
        tables = [read_box(film, box, 12) for box in walk_boxes(film) if box.kind == "stsz"]
    return int.from_bytes(tables[0][8:12], "big") if tables else 0


def _rate(found: Sequence[float]) -> int:
    """The rate of the film: the one that most clips can be shown at without frames doubled or left out unevenly."""
    plain = [
        next((rate for rate in (30, 25, 24) if one >= 20 and abs(one / max(1, round(one / rate)) - rate) < 0.5), 30)
        for one in found
    ]
    return Counter(plain).most_common(1)[0][0] if plain else MOST_FRAMES_A_SECOND


def _sound(source: Sequence[str], place: Path, most_s: int) -> Path:
    """The sound of a clip, evened, as bare samples."""
    out = place.with_suffix(".sound")
    measure = ("-af", f"{_LOUD}:print_format=json", "-f", "null", "-")
    _, words = ask_ffmpeg(*source, *measure, folder=place.parent, processor_s=most_s)
    found = re.search(r"\{[^{}]*\}", words[max(words.rfind("{"), 0) :])
    said = json.loads(found[0]) if found else {}
    known = {name: float(said.get(f"input_{name.lower()}", "-inf")) for name in ("I", "TP", "LRA", "thresh")}
    evened = _LINED_UP
    if all(map(math.isfinite, known.values())) and known["I"] > _FAINTEST:
        told = ":".join(f"measured_{name}={value}" for name, value in known.items())
        evened += f",{_LOUD}:{told}:offset={said['target_offset']}:linear=true"
    plain = ("-ac", "2", "-ar", str(_SAMPLES), "-f", "s16le", out.name)
    run_ffmpeg(place.parent, [*source, "-af", evened, *plain], processor_s=most_s)
    return out


# -- the whole -------------------------------------------------------------------------------------


def _join(pieces: Sequence[_Piece], stage: Stage, rate: int, folder: Path) -> Path:
    listed, chapters, captions, sound = (folder / name for name in ("pieces", "chapters", "captions", "sound"))
    listed.write_text("ffconcat version 1.0\n" + "".join(f"file {piece.path.name}\n" for piece in pieces))
    chapters.write_text(_chapters(pieces, rate), "utf-8")
    inputs = ["-f", "concat", "-i", listed.name, "-f", "ffmetadata", "-i", chapters.name]
    tracks = ["-map", "0:v:0", "-map_chapters", "1"]
    if said := _captions(pieces, rate):
        captions.write_text(said, "utf-8")
        inputs += ["-f", "webvtt", "-i", captions.name]
        tracks += ["-map", "2:s:0", "-c:s", "mov_text", "-metadata:s:s:0", f"language={stage.language}"]
    if any(piece.sound for piece in pieces):
        _lay_sound(pieces, rate, sound)
        inputs += ["-f", "s16le", "-ar", str(_SAMPLES), "-ac", "2", "-i", sound.name]
        tracks += ["-map", f"{3 if said else 2}:a:0", *AAC, "-b:a", "160k"]
    # Left to itself the scale becomes so fine that a chapter of eleven seconds overflows and is lost.
    form = ["-movie_timescale", str(100 * rate), "-movflags", "+faststart+disable_chpl", "-f", "mp4", FILM]
    most_s = processor_s(Decimal(sum(piece.frames for piece in pieces)) / rate)
    try:
        run_ffmpeg(folder, [*inputs, *tracks, "-c:v", "copy", *TOLD_NOTHING, *UNSIGNED, *form], processor_s=most_s)
    except FilmError as trouble:
        raise FilmError(NOT_WRITTEN) from trouble
    _raise_captions(folder / FILM)
    return _clean(folder / FILM, words=True)


def _clean(out: Path, *, words: bool) -> Path:
    """The film without what the muxer leaves; FilmError where there is more in it than there must be."""
    blank_words(out)
    with out.open("rb") as film:
        if unclean := uncleanliness(film, words=words):
            raise FilmError(f"the film is not clean: {', '.join(unclean)}")
    return out


def _begun(pieces: Sequence[_Piece]) -> Iterator[tuple[int, _Piece]]:
    """Each piece with the number of frames before it."""
    frames = 0
    for piece in pieces:
        yield frames, piece
        frames += piece.frames


def _chapters(pieces: Sequence[_Piece], rate: int) -> str:
    """Scenes of the same chapter that follow one another are one; ffmpeg's own form of metadata."""
    lines = [";FFMETADATA1"]
    for title, run in groupby(_begun(pieces), key=lambda one: one[1].scene.chapter):
        inside = list(run)
        end = inside[-1][0] + inside[-1][1].frames
        escaped = re.sub(r"([=;#\\])", r"\\\1", " ".join(title.split()))
        lines += ["[CHAPTER]", f"TIMEBASE=1/{rate}", f"START={inside[0][0]}", f"END={end}", f"title={escaped}"]
    return "\n".join(lines) + "\n"


def _captions(pieces: Sequence[_Piece], rate: int) -> str:
    """Captions as WebVTT (W3C), nothing where there are none."""
    cues = []
    for frames, piece in _begun(pieces):
        words = " ".join(piece.scene.caption.split())
        if words:
            end = frames + min(piece.frames, max(round(reading_seconds(words) * rate), 6 * rate))
            # On the way to MP4 ffmpeg makes commands of braces.
            plain = escape(words.replace("{", "(").replace("}", ")"), quote=False)
            cues.append(f"{_moment(frames, rate)} --> {_moment(end, rate)}\n{plain}\n")
    return "\n".join(["WEBVTT\n", *cues]) if cues else ""


def _raise_captions(film: Path) -> None:
    """Tell players to put captions at the top: at the foot they would stand in the strip.

    3GPP TS 26.245, 5.16: the vertical justification of a `tx3g` entry, which ffmpeg writes as -1, is 0 for the top.
    """
    with film.open("r+b") as opened:
        for box in [box for box in walk_boxes(opened) if box.kind == "stsd"]:
            if read_box(opened, box, 16)[12:] == b"tx3g":
                opened.seek(box.start + 8 + 8 + 8 + 5)
                opened.write(b"\0")


def _moment(frames: int, rate: int) -> str:
    seconds, rest = divmod(frames * 1000 // rate, 1000)
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}.{rest:03d}"


LETTERS_A_SECOND = 15
"""How fast captions are read (common practice, no source)."""


def reading_seconds(words: str) -> Decimal:
    """How long a caption has to stand there, at most ten seconds."""
    return min(Decimal(len(words)) / LETTERS_A_SECOND, Decimal(10))


def _lay_sound(pieces: Sequence[_Piece], rate: int, place: Path) -> None:
    """The sounds one behind the other as bare samples, each exactly as long as its piece; else silence."""
    with place.open("wb") as out:
        for frames, piece in _begun(pieces):
            begin, end = (4 * (at * _SAMPLES // rate) for at in (frames, frames + piece.frames))
            if piece.sound:
                out.seek(begin)
                with piece.sound.open("rb") as samples:
                    shutil.copyfileobj(samples, out)
                piece.sound.unlink()
            out.truncate(end)
