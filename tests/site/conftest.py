"""Fixtures for tests of pages."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from laying import SMALL, TODAY, LayContext, OpenJournal, pictures_of, usable
from making import MakeBuild

from journal.ledger.journal import Journal, open_journal
from journal.site.site_context import Extras, SiteContext
from journal.view.view import Audience, open_view


@pytest.fixture
def open_small(make_build: MakeBuild) -> OpenJournal:
    """The small build, opened; files given replace or add to its own."""

    def opened(files: Mapping[str, str | bytes | None] | None = None) -> Journal:
        return open_journal(make_build({**SMALL, **(files or {})}), TODAY)

    return opened


@pytest.fixture
def lay(open_small: OpenJournal) -> LayContext:
    """A desk for an audience over the small build. Its photos are taken to be usable."""

    def laid(
        files: Mapping[str, str | bytes | None] | None = None,
        *,
        audience: Audience = Audience.PUBLIC,
        offline: bool = False,
        extras: Extras | None = None,
    ) -> SiteContext:
        view = open_view(usable(open_small(files)), audience)
        return SiteContext(view, pictures_of(view), offline=offline, site_name="Tarn build journal", extras=extras)

    return laid
