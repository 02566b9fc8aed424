"""A BagIt 1.0 bag (RFC 8493) with SHA-256: its tag files written and read, the whole checked.

The `bagit` package accepts what is written here and is run over it in the tests; it does not write
it: `make_bag` moves the files of a folder that is already there, changes the working directory, reads
every file once more, writes version 0.97, and lists tag files in the order of the disk, so that the
same content would not give the same bytes.

A bag is damaged in many ways at once as easily as in one; `check_bag` finds them all, typed.
"""

from __future__ import annotations

import io
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field

from journal.base.addresses import composed
from journal.base.byte_progress import Progress, silent
from journal.base.digests import CHUNK, Source, digest_stream, largest_first, sha256_of
from journal.base.formatting import say_count
from journal.record.container import BAGIT, OpenBag, is_safe, kept_on_windows
from journal.record.damage import Damage, DamageKind, damaged, printable, sort_damage

INFO, README = "bag-info.txt", "README.txt"
MANIFEST, TAG_MANIFEST = "manifest-sha256.txt", "tagmanifest-sha256.txt"
PLAIN_NAMES = "names-as-they-are-sha256.txt"
"""Only where a name holds %, CR or LF: the payload once more, as `sha256sum -c` reads it."""
PAYLOAD = "data/"
BAGIT_TEXT = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"

_MOST_TAG_BYTES = 256 * 2**20
"""A list of two million files; anything larger is no tag file and is not read into memory."""
_MOST_TEXT_BYTES = 32 * 2**20
"""Larger files are not tried with other line ends."""


# --- tag files -----------------------------------------------------------------------------------


def encode_path(path: str) -> str:
    """A path as a manifest writes it: CR, LF and the percent sign as %0D, %0A, %25 (RFC 8493, 2.1.3)."""
    return re.sub("[%\r\n]", lambda match: f"%{ord(match[0]):02X}", path)


def decode_path(text: str) -> str:
    """The path behind `encode_path`; a percent sign that begins none of the three is left alone."""
    return re.sub("%(25|0D|0A)", lambda match: chr(int(match[1], 16)), text, flags=re.IGNORECASE)


def render_manifest(digests: Mapping[str, str]) -> bytes:
    """Path -> digest as a manifest, sorted by path; `sha256sum -c` reads it."""
    return "".join(f"{digests[path]}  {encode_path(path)}\n" for path in sorted(digests)).encode()


def render_plain_names(digests: Mapping[str, str]) -> bytes:
    r"""The same as `sha256sum` itself writes it: a line with `\`, CR or LF in the name begins with `\`."""
    escaped = {path: path.translate({92: r"\\", 10: r"\n", 13: r"\r"}) for path in sorted(digests)}
    lines = (f"{'' if path == plain else chr(92)}{digests[path]}  {plain}\n" for path, plain in escaped.items())
    return "".join(lines).encode()


_MANIFEST_LINE = re.compile(r"([0-9A-Fa-f]{64})[ \t]+\*?(.+)\Z", re.DOTALL)


def parse_manifest(name: str, data: bytes) -> tuple[dict[str, str], list[Damage]]:
    """(path -> digest in lower case, damage) of a manifest. Lines that cannot be read are damage.

    Read as RFC 8493 has it (2.1.3): any blanks between, lines ended by LF, CR or both.
    """
    listed: dict[str, str] = {}
    damage: list[Damage] = []

    def note(line: int, message: str) -> None:
        damage.append(Damage(kind=DamageKind.MANIFEST, path=name, message=f"line {line} {message}"))

    for number, raw in enumerate(re.split(b"\r\n|\r|\n", data), start=1):
        if not raw:
            continue
        try:
            match = _MANIFEST_LINE.match(raw.decode())
        except UnicodeDecodeError:
            note(number, "is not UTF-8")
            continue
        if match is None:
            note(number, "is not a digest and a path")
            continue
        path = decode_path(match[2]).removeprefix("./")
        if not is_safe(path):
            note(number, f'names a path that leads out of the bag: "{printable(path)}"')
        elif path in listed:
            note(number, f'lists "{printable(path)}" a second time')
        else:
            listed[path] = match[1].lower()
    return listed, damage


def render_info(fields: Sequence[tuple[str, str]]) -> bytes:
    """bag-info.txt: `Label: value` lines in the order given; line breaks in a value become spaces."""
    return "".join(f"{label}: {' '.join(value.split())}\n" for label, value in fields).encode()


def parse_tags(data: bytes) -> list[tuple[str, str]] | None:
    """The (label, value) pairs of a tag file, folded lines put together; None where it is none."""
    try:
        text = data.decode()
    except UnicodeDecodeError:
        return None
    pairs: list[tuple[str, str]] = []
    for line in re.split("\r\n|\r|\n", text):
        label, colon, value = line.partition(":")
        if line[:1] in (" ", "\t") and pairs:
            pairs[-1] = (pairs[-1][0], f"{pairs[-1][1]} {line.strip()}")
        elif colon and label.strip():
            pairs.append((label.strip(), value.strip()))
        elif line.strip():
            return None
    return pairs


def tag_files(
    digests: Mapping[str, str],
    payload_bytes: int,
    info: Sequence[tuple[str, str]],
    beside: Mapping[str, bytes],
) -> dict[str, bytes]:
    """All tag files of a bag by name, `beside` among them: `digests` are those of the payload, paths with `data/`."""
    tags = {
        **beside,
        BAGIT: BAGIT_TEXT,
        INFO: render_info([*info, ("Payload-Oxum", f"{payload_bytes}.{len(digests)}")]),
        MANIFEST: render_manifest(digests),
    }
    if any(encode_path(path) != path for path in digests):
        tags[PLAIN_NAMES] = render_plain_names(digests)
    tags[TAG_MANIFEST] = render_manifest({name: sha256_of(data) for name, data in tags.items()})
    return tags


def awkward_name(path: str) -> str:
    """Why other programs may stumble over a file of this name, or ""."""
    if encode_path(path) != path:
        written = "holds %, CR or LF, which RFC 8493 writes as %25, %0D, %0A"
        return f"{written}: sha256sum and the bagit program look for a file of that name"
    if re.search("[\x0b\x0c\x1c-\x1e\x85\u2028\u2029]", path) or any(p != p.strip() for p in path.split("/")):
        return "holds a line break or ends in a blank, over which the bagit program stumbles"
    return "" if kept_on_windows(path) else "is one that Windows cannot keep: there the file would not be restored"


# --- checking ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class BagCheck:
    """What was found: `digests` are those of the files as they are now, by path.

    `info` are the fields of bag-info.txt, `files` and `bytes` count the payload, `listed` are the digests as both
    lists have them. `bag` gives the files with the line ends that they had where a program changed nothing else.
    """

    damage: tuple[Damage, ...]
    bag: OpenBag
    listed: Mapping[str, str] = field(default_factory=dict)
    digests: Mapping[str, str] = field(default_factory=dict)
    info: Mapping[str, str] = field(default_factory=dict)
    files: int = 0
    bytes: int = 0


def read_tag(bag: OpenBag, path: str) -> bytes | None:
    """A small file whole; None where it is not there, cannot be read, or is far too large."""
    if bag.files.get(path, _MOST_TAG_BYTES) >= _MOST_TAG_BYTES:
        return None
    try:
        with bag.open(path) as source:
            return _read_all(source)
    except OSError:
        return None


def _read_all(source: Source) -> bytes:
    parts, buffer = [], bytearray(CHUNK)
    while count := source.readinto(memoryview(buffer)):
        parts.append(bytes(buffer[:count]))
    return b"".join(parts)


def check_bag(bag: OpenBag, progress: Progress = silent) -> BagCheck:
    """Everything that is wrong with a bag: structure, counts, completeness both ways, digests.

    An archive of ours has more than RFC 8493 asks for: bag-info.txt, a tag manifest that lists every other
    tag file and is written exactly as here, so that no bit of it can change unseen.
    """
    damage = list(bag.damage)

    def note(kind: DamageKind, path: str, message: str) -> None:
        damage.append(damaged(kind, path, message))

    tags = {name: read_tag(bag, name) for name in (BAGIT, INFO, MANIFEST, TAG_MANIFEST)}
    if wrong_declaration := _wrong_declaration(tags[BAGIT]):
        note(DamageKind.STRUCTURE, BAGIT, wrong_declaration)
    if "fetch.txt" in bag.files:
        note(DamageKind.STRUCTURE, "fetch.txt", "says that files have to be fetched: the bag is not whole")
    info = dict(parse_tags(tags[INFO] or b"") or [])
    listed: dict[str, str] = {}
    ends: dict[str, bytes] = {}
    for name in (MANIFEST, TAG_MANIFEST):
        data = tags[name]
        if data is not None:
            lines, wrong = parse_manifest(name, data)
            damage += wrong
            for path, digest in lines.items():
                # Payload files belong in the manifest, tag files in the tag manifest (RFC 8493, 2.1.3 and 2.2.1).
                if path.startswith(PAYLOAD) == (name == MANIFEST):
                    listed[path] = digest
                else:
                    note(DamageKind.MANIFEST, name, f'lists "{printable(path)}", which does not belong in it')
            if not wrong and _with_ends(data, b"\n") == render_manifest(lines) != data:
                ends[name] = b"\n"
            elif not wrong and data != render_manifest(lines):
                note(DamageKind.MANIFEST, name, "is not written as journal archive writes it")
    for name in (MANIFEST, INFO, TAG_MANIFEST):
        if tags[name] is None:
            listed.setdefault(name, "")
    missing, unlisted = listed.keys() - bag.files.keys(), bag.files.keys() - listed.keys() - {TAG_MANIFEST}
    wanted = listed.keys() & bag.files.keys() | (unlisted if missing else set())
    digests, unreadable = _digest_all(bag, sorted(wanted), progress)
    damage += unreadable
    if ends := ends | _line_ends(bag, listed, digests):
        note(DamageKind.LINE_ENDS, "", _tell_line_ends(ends))
        bag = _AsListed(bag, ends)
        digests |= {path: listed[path] for path in ends if path in listed}
    payload = {path: size for path, size in bag.files.items() if path.startswith(PAYLOAD)}
    if not payload and not any(path.startswith(PAYLOAD) for path in listed):
        note(DamageKind.STRUCTURE, PAYLOAD, "there is no payload")
    oxum, found = info.get("Payload-Oxum"), (sum(payload.values()), len(payload))
    counts = _parse_oxum(oxum or "")
    if oxum is not None and counts is None:
        note(DamageKind.COUNTS, INFO, f'Payload-Oxum "{printable(oxum)}" is not bytes.files')
    elif counts is not None and counts != found:
        told = f"there are {say_count(found[1], 'file')} with {found[0]:,} bytes, not {counts[1]:,} with {counts[0]:,}"
        note(DamageKind.COUNTS, PAYLOAD, told)
    if oxum is None and tags[INFO] is not None:
        note(DamageKind.COUNTS, INFO, "does not say how many bytes and files there are (Payload-Oxum)")
    damage += _check_names(missing, unlisted, listed, digests)
    # Bytes more than were counted (less: negative), where the counts can tell.
    excess = found[0] - counts[0] if counts and counts[1] == found[1] and not (missing or unlisted) else None
    damage += _check_digests(listed, digests, bag.files, excess)
    return BagCheck(
        damage=sort_damage(damage), bag=bag, listed=listed, digests=digests, info=info, files=found[1], bytes=found[0]
    )


# What git does on another system, and FTP in text mode: LF becomes CRLF or the other way round in every text.


class _AsListed(OpenBag):
    """A bag whose texts are read with the line ends that they had: `ends` by path."""

    def __init__(self, bag: OpenBag, ends: Mapping[str, bytes]) -> None:
        super().__init__()
        self._bag, self._ends = bag, ends
        self.files = bag.files | {path: len(_with_ends(read_tag(bag, path) or b"", ends[path])) for path in ends}
        self.empty_folders, self.damage = bag.empty_folders, bag.damage

    @contextmanager
    def open(self, path: str) -> Iterator[Source]:
        with self._bag.open(path) as source:
            yield source if path not in self._ends else io.BytesIO(_with_ends(_read_all(source), self._ends[path]))


def _with_ends(text: bytes, ends: bytes) -> bytes:
    return text.replace(b"\r\n", b"\n").replace(b"\n", ends)


def _line_ends(bag: OpenBag, listed: Mapping[str, str], digests: Mapping[str, str]) -> dict[str, bytes]:
    """The line ends with which a file that is not as listed is so; only such files are read again."""
    found = {}
    for path, digest in digests.items():
        if listed.get(path, digest) != digest and bag.files[path] <= _MOST_TEXT_BYTES:
            text = read_tag(bag, path) or b""
            for ends in (b"\n", b"\r\n"):
                if sha256_of(_with_ends(text, ends)) == listed[path]:
                    found[path] = ends
    return found


def _tell_line_ends(ends: Mapping[str, bytes]) -> str:
    counts = Counter("LF" if kind == b"\n" else "CRLF" for kind in ends.values())
    with_which = ", ".join(f"{count:,} with {kind}" for kind, count in counts.most_common())
    names = ", ".join(map(printable, sorted(ends)[:3])) + (" …" if len(ends) > 3 else "")
    return (
        f"a program changed the line ends of {say_count(len(ends), 'file')} on the way, as git and FTP in text mode "
        f"do; with the old ones each is exactly as listed ({with_which}), and journal begin --from-archive brings it "
        f"back so: {names}"
    )


def _wrong_declaration(data: bytes | None) -> str:
    """What is wrong with bagit.txt, or "". RFC 8493, 2.1.1: exactly two lines, no byte-order mark."""
    if data is None:
        return "is not there: this folder is not a bag"
    pairs = parse_tags(data)
    if pairs is None or [label for label, _ in pairs] != ["BagIt-Version", "Tag-File-Character-Encoding"]:
        return "does not declare a bag as RFC 8493 has it"
    if pairs[0][1] not in ("1.0", "0.97") or pairs[1][1].upper() != "UTF-8":
        return f"declares version {printable(pairs[0][1])} in {printable(pairs[1][1])}, not 1.0 in UTF-8"
    return ""


def _parse_oxum(oxum: str) -> tuple[int, int] | None:
    """(bytes, files) as bag-info.txt counts them (RFC 8493, 2.2.2)."""
    match = re.fullmatch(r"([0-9]{1,18})\.([0-9]{1,12})", oxum)
    return (int(match[1]), int(match[2])) if match else None


def _digest_all(bag: OpenBag, paths: Sequence[str], progress: Progress) -> tuple[dict[str, str], list[Damage]]:
    digests: dict[str, str] = {}
    damage: list[Damage] = []

    def digest(path: str) -> str | OSError:
        try:
            with bag.open(path) as source:
                return digest_stream(source)[0]
        except OSError as trouble:
            return trouble

    for path, found in largest_first(digest, {path: bag.files[path] for path in paths}, progress):
        if isinstance(found, OSError):
            damage.append(damaged(DamageKind.UNREADABLE, path, f"cannot be read: {found.strerror or found}"))
        else:
            digests[path] = found
    return digests, damage


def _check_names(
    missing: Iterable[str], unlisted: Iterable[str], listed: Mapping[str, str], digests: Mapping[str, str]
) -> Iterator[Damage]:
    """Missing and unlisted files, put together where one became the other under another name."""
    gone, free = sorted(missing), sorted(unlisted)
    pairs: dict[str, str] = {}
    for old_key, new_key in (
        (composed, composed),
        (folded_name, folded_name),
        (lambda old: listed[old], lambda new: digests.get(new, "")),
    ):
        by_key: dict[str, list[str]] = {}
        for new in reversed(free):
            by_key.setdefault(new_key(new), []).append(new)
        for old in gone:
            alike = by_key.get(old_key(old)) if old not in pairs and old_key(old) else None
            if alike:
                pairs[old] = alike.pop()
        taken = set(pairs.values())
        free = [new for new in free if new not in taken]
    for old, new in pairs.items():
        whole = "its content is as listed" if listed[old] == digests.get(new) else "its content changed too"
        if composed(old) == composed(new):
            kind, told = DamageKind.UNICODE_FORM, "the name has another Unicode form"
        elif folded_name(old) == folded_name(new):
            kind, told = DamageKind.LETTER_CASE, f'is now called "{printable(new)}", in other letter case'
        else:
            kind, told = DamageKind.RENAMED, f'is now called "{printable(new)}"'
        yield damaged(kind, old, f"{told}; {whole}")
    for old in gone:
        if old not in pairs:
            told = "is listed but not there" if listed[old] else "is not there"
            yield damaged(DamageKind.MISSING, old, told)
    for new in free:
        told = "is there but not listed" + (" (the system's own; delete it)" if is_system_file(new) else "")
        yield damaged(DamageKind.UNLISTED, new, told)


def is_system_file(path: str) -> bool:
    """Whether a file is what a desktop leaves in a folder somebody looked into."""
    name = path.rpartition("/")[2]
    return name.casefold() in (".ds_store", "thumbs.db", "desktop.ini") or name.startswith("._")


def folded_name(path: str) -> str:
    """What is the same for names that meet on some disk: those that differ in letter case or Unicode form alone."""
    return composed(composed(path).casefold())


def _check_digests(
    listed: Mapping[str, str], digests: Mapping[str, str], sizes: Mapping[str, int], excess: int | None
) -> Iterator[Damage]:
    altered = {path for path, digest in digests.items() if path in listed and listed[path] != digest}
    owners: dict[str, list[str]] = {}
    for path in sorted(listed):
        owners.setdefault(listed[path], []).append(path)
    in_payload = [path for path in altered if path.startswith(PAYLOAD)]
    for path in altered:
        others = owners.get(digests[path], [])
        swapped = next((other for other in others if other in altered and digests[other] == listed[path]), None)
        if swapped is not None:
            if path < swapped:
                told = f'has changed places with "{printable(swapped)}"'
                yield damaged(DamageKind.SWAPPED, path, told)
        elif others:
            yield damaged(DamageKind.ALTERED, path, f'holds what belongs in "{printable(others[0])}"')
        elif sizes[path] == 0:
            yield damaged(DamageKind.CUT_SHORT, path, "is empty")
        elif excess is not None and excess < 0 and in_payload == [path]:
            told = f"is cut short: {say_count(-excess, 'byte')} of {sizes[path] - excess:,} are gone"
            yield damaged(DamageKind.CUT_SHORT, path, told)
        else:
            longer = f", {say_count(excess, 'byte')} longer" if excess and excess > 0 and in_payload == [path] else ""
            yield damaged(DamageKind.ALTERED, path, f"is not what it was{longer}")
