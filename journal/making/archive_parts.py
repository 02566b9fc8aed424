"""What fills an archive: the offline site from the host, the binder and the tables from the record."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from journal.commands.record import archive_command
from journal.ledger.journal import Journal
from journal.making.archive_pages import record_extras
from journal.making.lay_site import build_site, load_settings, render_pictures
from journal.record.archive import Parts
from journal.record.binder import plan_binder, render_binder
from journal.record.chain import read_chain
from journal.record.tables import archive_tables, tables_guide
from journal.view.view import Audience, open_view


def make_parts(journal: Journal, without_private: bool, made_at: datetime) -> Parts:
    """The readable parts of an archive; without private things they are made from the public view alone.

    Raises SiteError (from the site) for what the user can mend in mkdocs.yml.
    """
    audience = Audience.PUBLIC if without_private else Audience.ARCHIVE
    view = open_view(journal, audience)

    def site(folder: Path) -> None:
        build_site(journal, out=folder, audience=audience, offline=True, contributors=(record_extras,))

    def binder(path: Path) -> None:
        pictures, _ = render_pictures(journal, view, credit=load_settings(journal.root).site_name)
        # The reasons of amendments are written for the inspector, so the chain stays with the archive.
        chain = None if without_private else read_chain(journal.root)
        planned = plan_binder(journal, view, pictures, made_on=made_at.date(), chain=chain)
        render_binder(planned, path, made_at=made_at)

    return Parts(site=site, binder=binder, tables=lambda: archive_tables(journal, view), guide=tables_guide())


def own_templates(root: Path) -> Sequence[str]:
    """The builder's own `custom_dir` where it lies in the build folder: without it a restored build would not build."""
    folder = load_settings(root).theme.custom_dir
    if folder is None or not Path(folder).is_relative_to(root):
        return ()
    return (Path(folder).relative_to(root).as_posix(),)


archive = archive_command(make_parts, own_templates)
