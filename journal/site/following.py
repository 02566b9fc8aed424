"""How to be told of the next entry, in words for readers who never heard of feeds."""

from __future__ import annotations

from journal.base.addresses import FOLLOW
from journal.base.formatting import say_all
from journal.base.words import _
from journal.site.site_context import SiteContext
from journal.view.page_parts import Cell, Group, Link, PageRecord


def following_page(site: SiteContext) -> PageRecord | None:
    """None where there is nothing to follow: a site without an address has no feeds."""
    url, write_to = site.site_url, site.view.write_to
    groups = []
    if url:
        groups = [
            Group(
                title=_("A feed reader tells you"),
                paragraphs=(
                    _(
                        "Entries come when there was time in the workshop, on no fixed day. A feed reader looks "
                        "here for you, on your phone or computer, and shows each new entry as a mail program "
                        "shows letters."
                    ),
                    _(
                        "It needs no account and no mail address: nobody here learns that you follow, and you "
                        "stop by taking the journal out of it again. There are many, free ones among them; "
                        "search for “feed reader” or “RSS reader”."
                    ),
                ),
            ),
            Group(
                title=_("How to follow"),
                points=(
                    _("Copy the first address below."),
                    _("In your feed reader choose “add”, “subscribe” or “follow”, and paste it there."),
                    _("That is all. New entries come with their words and pictures, and so does one that was amended."),
                ),
                block=(
                    Cell(label=_("Address for every reader (Atom)"), value=f"{url}feed.xml"),
                    Cell(label=_("The same as JSON Feed, for readers that ask for it"), value=f"{url}feed.json"),
                ),
            ),
            Group(
                title=_("Without a feed reader"),
                paragraphs=(
                    _("Keep the address of this journal as a bookmark, or pass it on to somebody who would like it."),
                ),
                block=(Cell(label=_("Address of this journal"), value=url),),
            ),
        ]
    if write_to:
        web = write_to.startswith("https://")
        link = Link(text=write_to, address=write_to if web else f"mailto:{write_to}")
        words = _("A question, a better way, a mistake that you found: it is welcome.")
        groups.append(
            Group(title=_("Write to {builders}", builders=_builders(site)), paragraphs=(words,), items=(link,))
        )
    if site.offline or not groups:
        return None
    return site.page(
        FOLLOW,
        "follow.html",
        _("Follow"),
        _("How to be told when there is a new entry in {site_name}.", site_name=site.site_name),
        intro=_("How to be told when there is a new entry."),
        groups=tuple(groups),
        entries=(),
    )


def _builders(site: SiteContext) -> str:
    """Ada and Bo, where they are shown by name; else the builder."""
    return say_all(site.builders) or _("the builder")
