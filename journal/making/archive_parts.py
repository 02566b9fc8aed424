"""What fills an archive: the offline site from the host, the binder and the tables from the record, all of one view.
And how much private it will hold, drafts included, which no view of the archive knows.
"""

from __future__ import annotations

import platform
import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from functools import cache
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path

from journal.base.byte_progress import Begin, quietly
from journal.base.digests import file_sha256
from journal.base.fingerprints import code_digest
from journal.base.formatting import say_count
from journal.base.model import Entry, WriteUp
from journal.base.private_passages import private_lines
from journal.base.problems import Problem, error
from journal.ledger.journal import Journal
from journal.making.archive_pages import record_extras
from journal.making.host import docs_dir, load_settings, shipped_digests, shipped_words, site_options, write_site
from journal.making.lay_site import lay_site, render_pictures
from journal.making.private_words import gather_private
from journal.making.scan import Scanner
from journal.media.clips import uncleanliness
from journal.media.photos import Picture
from journal.record.archive import DAY, PROGRAM, Parts
from journal.record.binder import KeptPaper, plan_binder, render_binder
from journal.record.chain import Chain, read_chain
from journal.record.seals import stamps_of
from journal.record.tables import archive_tables, tables_described, tables_guide
from journal.view.view import Audience, View

ABOUT = "about"
"""Folder in the site for the documents that tell a stranger how to read the source and check its chain."""


def make_parts(
    journal: Journal,
    made_at: datetime,
    *,
    view: View | None = None,
    begin: Begin = quietly,
) -> Parts:
    """The readable parts of an archive of the inspector's `view`, or, without it, of the public one, which is looked
    through like a site before it is published.

    Raises SiteError for what the user can mend in mkdocs.yml.
    """
    settings = load_settings(journal.root, offline=True)
    options = site_options(settings, view.audience if view else Audience.PUBLIC, offline=True)
    laid = lay_site(journal, options, view=view, contributors=(record_extras,), begin=begin)

    def site(folder: Path) -> None:
        settings.site_dir = str(folder.absolute())
        write_site(laid, settings)
        (folder / ABOUT).mkdir()
        for name in ("format.md", "seals.md"):
            (folder / ABOUT / name).write_bytes((docs_dir() / name).read_bytes())

    def binder(path: Path) -> None:
        # The reasons of amendments are written for the inspector, so the chain stays with the archive.
        chain, pictures = (read_chain(journal.root), unmarked()) if view else (Chain(), laid.pictures)
        planned = plan_binder(
            laid.view,
            pictures,
            made_on=made_at.date(),
            chain=chain,
            stamps=stamps_of(journal.root, chain) if view else (),
            papers=dict(_papers(journal.root, laid.view)),
        )
        render_binder(planned, path, made_at=made_at)

    def unmarked() -> Mapping[str, Picture]:
        """The pictures without the builder's mark, which may lie over what an inspector wants to see."""
        settings = replace(laid.view.photo_settings, watermark="")
        if settings == laid.view.photo_settings:
            return laid.pictures
        return render_pictures(journal.root, laid.view, settings, credit=options.site_name, begin=begin)[0]

    def search(folder: Path) -> tuple[Problem, ...]:
        scanner = Scanner(
            gather_private(journal.root, shipped_words()),
            root=journal.root,
            site_url=laid.frame.site_url,
            shipped=shipped_digests(),
            allowed=journal.build.let_pass,
            look_at_film=uncleanliness,
        )
        hint = 'mend it, make it private, or let it pass in content/publishing.yml (`allow: {"WORDS": "why"}`)'
        leaks = scanner.search_site(folder, drawn=laid.view.photo_settings.watermark).leaks
        told = (replace(error(leak.file, None, "archive-private", leak.told, hint), line=leak.line) for leak in leaks)
        return tuple(told)

    def tables() -> Iterator[tuple[str, bytes]]:
        yield from archive_tables(laid.view)
        yield from tables_described()

    parts = Parts(
        site=site,
        binder=binder,
        tables=tables,
        guide=tables_guide(),
        facts={DAY: journal.today.isoformat(), PROGRAM: program_digest()},
        late=laid.late,
    )
    return parts if view else replace(parts, search=search)


def _papers(root: Path, view: View) -> Iterator[tuple[str, KeptPaper]]:
    """The file behind every paper kept, by its name in records.csv."""
    for record in view.records:
        path = root / "content/records" / record.file
        if path.is_file():  # one that is missing is an error of its own
            digest, size = file_sha256(path)
            yield record.file, KeptPaper(path=path, bytes=size, sha256=digest)


@cache
def program_digest() -> str:
    """What tells whether the same source must give the same bytes: our files and the versions of their libraries."""
    digest = sha256(code_digest())
    digest.update("".join(sorted(shipped_digests())).encode())
    with suppress(PackageNotFoundError):
        for need in sorted(requires("build-journal") or ()):
            if match := re.match(r"[\w.-]+(?!.*extra ==)", need):
                digest.update(f"{match[0]} {version(match[0])}\n".encode())
    digest.update(f"{sys.version_info[:2]} {platform.machine()} {platform.system()}".encode())
    return digest.hexdigest()


def own_templates(root: Path) -> Sequence[str]:
    """The builder's own `custom_dir` where it lies in the build folder: without it a restored build would not build."""
    folder = load_settings(root).theme.custom_dir
    if folder is None or not Path(folder).is_relative_to(root):
        return ()
    return (Path(folder).relative_to(root).as_posix(),)


def private_things(journal: Journal) -> str:
    """How much of a build no follower has seen, drafts included: `2 private entries, 3 records, 41 photos that hold
    their position`; "" where there is nothing.
    """
    build = journal.build
    told: list[Entry | WriteUp] = [*build.entries, *build.drafts, *build.write_ups]
    photos = [photo for one in told for photo in one.photos]
    clips = [clip for one in (*build.entries, *build.drafts) for clip in one.clips]
    bodies = [page.body for page in build.pages] + [one.body for one in told]

    positions = sum(photo.facts.located for photo in photos)
    parts = (
        (sum(entry.private for entry in build.entries), "private entry", "private entries"),
        (sum(inspection.private for inspection in build.inspections), "private inspection", None),
        (sum(measurement.private for measurement in build.measurements), "private measurement", None),
        (sum(photo.private for photo in photos), "private photo", None),
        (
            sum(photo.edits.hides for photo in photos),
            "photo shown cropped or filled in",
            "photos shown cropped or filled in",
        ),
        (sum(clip.private or clip.hides for clip in clips), "film that is private in part or whole", "films that are"),
        (sum(map(any, map(private_lines, bodies))), "text with private passages", "texts with private passages"),
        (len(build.drafts), "draft", None),
        (len(build.records), "record", None),
        (len(build.costs), "cost", None),
        (
            positions,
            "photo that holds its position",
            "photos that hold their position",
        ),
    )
    return ", ".join(say_count(number, one, many) for number, one, many in parts if number)
