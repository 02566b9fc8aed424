"""What fills an archive: the offline site from the host, the binder and the tables from the record, all of one view."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from journal.ledger.journal import Journal, OnPhotos
from journal.making.archive_pages import record_extras
from journal.making.film_panels import OnFilms
from journal.making.host import load_settings, site_options, write_site
from journal.making.lay_site import lay_site
from journal.record.archive import Parts
from journal.record.binder import plan_binder, render_binder
from journal.record.chain import read_chain
from journal.record.tables import archive_tables, tables_guide
from journal.view.view import Audience


def make_parts(
    journal: Journal,
    made_at: datetime,
    *,
    without_private: bool,
    on_photos: OnPhotos | None = None,
    on_films: OnFilms | None = None,
) -> Parts:
    """The readable parts of an archive; without private things they are made from the public view alone.

    Raises SiteError for what the user can mend in mkdocs.yml.
    """
    settings = load_settings(journal.root, offline=True)
    audience = Audience.PUBLIC if without_private else Audience.ARCHIVE
    options = site_options(settings, audience, offline=True)
    laid = lay_site(journal, options, contributors=(record_extras,), on_photos=on_photos, on_films=on_films)

    def site(folder: Path) -> None:
        settings.site_dir = str(folder.absolute())
        write_site(laid, settings)

    def binder(path: Path) -> None:
        # The reasons of amendments are written for the inspector, so the chain stays with the archive.
        chain = None if without_private else read_chain(journal.root)
        planned = plan_binder(laid.view, laid.pictures, made_on=made_at.date(), chain=chain)
        render_binder(planned, path, made_at=made_at)

    return Parts(site=site, binder=binder, tables=lambda: archive_tables(laid.view), guide=tables_guide())


def own_templates(root: Path) -> Sequence[str]:
    """The builder's own `custom_dir` where it lies in the build folder: without it a restored build would not build."""
    folder = load_settings(root).theme.custom_dir
    if folder is None or not Path(folder).is_relative_to(root):
        return ()
    return (Path(folder).relative_to(root).as_posix(),)
