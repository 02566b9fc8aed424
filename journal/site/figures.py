"""Pictures as HTML, written once for prose and templates alike.

Every picture carries its size (no layout shift), loads late, and is a link
to its largest form, which the viewer enlarges in place and a browser without scripts opens.
"""

from __future__ import annotations

from html import escape

from journal.base.words import _, content_lang, interface_lang
from journal.view.page_links import Linker
from journal.view.page_parts import letters_in
from journal.view.shown_pictures import PictureBox

# On a phone a little less than the picture takes is asked for: 430 px at three dots each would fetch the
# 1920 px form, four times the bytes for what nobody can see.
IN_TEXT = "(min-width: 64rem) 44rem, (min-width: 48rem) 90vw, 72vw"
IN_STRIP = "(min-width: 64rem) 22rem, (min-width: 40rem) 45vw, 50vw"
IN_TILE = "(min-width: 40rem) 12rem, 36vw"
IN_CARD = "(min-width: 64rem) 21rem, (min-width: 40rem) 45vw, 72vw"
MOST_LETTERS = 18
"""Of a word under a small picture; for longer ones the picture takes more room."""
LEADING = "(min-width: 64rem) 42rem, 72vw"


def render_image(box: PictureBox, linker: Linker, *, sizes: str, alt: str | None = None, early: bool = False) -> str:
    """The `<img>` alone, fetched `early` where it stands on the first screen; where there is no picture, a plain panel
    that says so.
    """
    if not box.usable:
        return (
            f'<span class="no-picture" role="img" aria-label="{escape(alt if alt is not None else box.alt)}">'
            f"<span>{escape(box.trouble)}</span></span>"
        )
    told = box.alt if alt is None else alt
    # Names of renditions are plain ASCII: nothing to quote, and a site places a hundred thousand of them.
    root = linker.root
    srcset = ", ".join([f"{root}{address} {width}w" for address, width in zip(box.addresses, box.widths, strict=True)])
    return (
        f'<img src="{root}{box.middle}" srcset="{srcset}" sizes="{sizes}" '
        f'width="{box.width}" height="{box.height}" alt="{escape(told)}"{content_lang()} '
        f"{_EARLY if early else _LATE}>"
    )


_LATE = 'loading="lazy" decoding="async"'
_EARLY = 'fetchpriority="high"'


def render_thumb(box: PictureBox, linker: Linker) -> str:
    """The smallest form for a contact sheet or a calendar, without a link and without words."""
    if not box.usable:
        return '<span class="no-picture" aria-hidden="true"></span>'
    return f'<img src="{linker.root}{box.smallest}" width="{box.width}" height="{box.height}" alt="" {_LATE}>'


def render_figure(
    box: PictureBox, linker: Linker, *, sizes: str = IN_TEXT, anchored: bool = False, early: bool = False
) -> str:
    """A picture with caption and capture day, enlarged by a press; `anchored` on its own entry's page."""
    shape = " tall" if box.tall else ""
    anchor = f' id="{box.anchor}"' if anchored else ""
    image = render_image(box, linker, sizes=sizes, early=early)
    if box.film:
        image = f'<a class="clip" href="{linker.root}{box.film}" type="video/mp4">{image}{_PLAY}</a>'
    elif box.usable:
        image = (
            f'<a class="photo" href="{linker.root}{box.largest}" data-pswp-width="{box.width}" '
            f'data-pswp-height="{box.height}">{image}</a>'
        )
    return f'<figure class="shot{shape}"{anchor}>{image}{render_caption(box, linker)}</figure>'


_PLAY = '<span class="play" aria-hidden="true"></span>'
"""Over the poster of a film: without scripts the browser opens the film, with them it plays in its place."""


def render_caption(box: PictureBox, linker: Linker) -> str:
    """Caption, capture day, step, and in the archive what else is known of the picture."""
    parts = []
    if box.caption:
        long = " long" if letters_in(box.caption) > MOST_LETTERS else ""
        parts.append(f'<span class="caption{long}"{content_lang()}>{escape(box.caption)}</span>')
    facts = [f'<span class="when">{escape(box.when)}</span>'] if box.when else []
    if box.step:
        words = _("Step {step}", step=escape(box.step))
        facts.append(f'<a href="{linker.to(box.step_address)}">{words}</a>' if box.step_address else words)
    if box.at_work:
        facts.append(_("at work: {at_work}", at_work=escape(box.at_work)))
    if box.inside:
        facts.append(_("inside, before closing"))
    if box.private:
        facts.append(_("private"))
    if box.original:
        words = _("original")
        if box.edits:
            facts.append(escape(box.edits))
            words = _("the original: {name}", name=escape(box.original.rpartition("/")[2]))
        facts.append(f'<a class="original" href="{linker.to(box.original)}">{words}</a>')
    if facts:
        parts.append(f'<span class="facts"{interface_lang()}>{" · ".join(facts)}</span>')
    return f"<figcaption>{' '.join(parts)}</figcaption>" if parts else ""
