"""The mkdocs plugin `journal`: the host's events as calls, and problems as its log records."""

from __future__ import annotations

import contextlib
import logging
import os
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal
from urllib.parse import quote

from jinja2 import FileSystemLoader
from mkdocs.config.base import Config
from mkdocs.config.config_options import Type
from mkdocs.exceptions import PluginError
from mkdocs.plugins import BasePlugin, event_priority, get_plugin_logger
from mkdocs.structure.files import File, Files, InclusionLevel
from mkdocs.structure.pages import Page

from journal.base import replace_folder
from journal.base.clock import today
from journal.base.formatting import say_count
from journal.base.problems import Grade, Problem, render_problem
from journal.base.safe_write import drop_file
from journal.base.words import _
from journal.ledger.journal import CACHE, open_journal
from journal.making import incremental
from journal.making.film_panels import CLIPS
from journal.making.host import HARMLESS, assets_of, set_up_environment, site_options, theme_dir, use_own_theme
from journal.making.lay_site import LaidSite, lay_site
from journal.making.link_cards import CARDS
from journal.site.frame import page_context
from journal.view.page_parts import PageRecord
from journal.view.shown_pictures import PICTURES
from journal.view.view import Audience

if TYPE_CHECKING:
    import jinja2
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.structure.nav import Navigation
    from mkdocs.utils.templates import TemplateContext

log = get_plugin_logger("journal")

CONTENT = "content"
_LAST = -1000
_OWN_KINDS = (".css", ".js", ".mjs")
_EPOCH = "1970-01-01"
_SPARE, _CURRENT = "site-spare", "site.json"
_UNCHANGED = "parts/nothing.html"
"""The template of a page that is taken over as it is: the host writes no file for an empty page."""


class JournalConfig(Config):  # type: ignore[no-untyped-call]
    """Settings under `plugins: - journal:`. `notice` is a line for every footer; `host_search` keeps the
    host's own search index, which the journal's find page makes needless.
    """

    notice = Type(str, default="")
    host_search = Type(bool, default=False)


class JournalPage(Page):
    """A page whose words are there already: the host reads and renders nothing. `unchanged` means
    that its file is there as well.
    """

    def __init__(self, made: PageRecord, file: File, config: MkDocsConfig, *, unchanged: bool) -> None:
        super().__init__(made.title, file, config)
        self.made = made
        self.unchanged = unchanged
        self.update_date = made.updated or _EPOCH
        self.edit_url = None

    def read_source(self, config: MkDocsConfig) -> None:
        """Nothing to read."""
        self.markdown, self.meta = "", {"template": _UNCHANGED if self.unchanged else self.made.template}

    def render(self, config: MkDocsConfig, files: Files) -> None:
        """The prose of the page, as other plugins may want it."""
        self.content = self.made.html
        self.toc = []  # type: ignore[assignment]


class JournalPlugin(BasePlugin[JournalConfig]):  # type: ignore[no-untyped-call]
    """Carries a journal into the host. One object serves all builds of one `mkdocs serve`.

    `laid` is a site that is laid already; where the host was started by itself, the plugin opens the journal and
    lays it, and says on the host's terminal what is wrong.
    """

    def __init__(self) -> None:
        self.laid: LaidSite | None = None
        self._under_us = False
        self._serving = False
        self._staging: replace_folder.HalfMade | None = None
        self._own_templates: list[str] = []
        self._host_templates: list[str] = []
        self._kept: incremental.KeptPages = {}
        self._standing: incremental.KeptPages = {}
        self._fingerprints: dict[str, str] = {}
        self._listed: list[dict[str, str]] = []
        self._told: frozenset[Problem] = frozenset()
        self._hollow: tempfile.TemporaryDirectory[str] | None = None

    def on_startup(self, *, command: Literal["build", "gh-deploy", "serve"], dirty: bool) -> None:
        """Remember whether this is a preview, and whether a command of ours works through the host."""
        self._serving, self._under_us = command == "serve", self.laid is not None
        logging.getLogger("mkdocs.commands.build").addFilter(_worth_telling)

    @event_priority(_LAST)
    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Put our theme under the builder's and above the host's; build beside the old site."""
        if Path(config.docs_dir).name != CONTENT:
            raise PluginError(f"docs_dir must be the folder {CONTENT}/ of the build; write `docs_dir: {CONTENT}`")
        use_own_theme(config)
        # Our pages use none of the host's thousands of scripts, styles and icons: its templates are there again for
        # the pages (`on_env`), where a builder's own may name them.
        theirs = config.theme.dirs.index(os.fspath(theme_dir())) + 1
        self._own_templates, self._host_templates = config.theme.dirs[:theirs], config.theme.dirs[theirs:]
        config.theme.dirs[:] = self._own_templates
        if not self.config.host_search:
            _silence_search(config)
        config.nav = None
        self._config, self._staging, self._kept, self._standing = config, None, {}, {}
        # The host would walk through all of content/ and publish what it finds: it is shown an empty folder.
        # For the same reason it empties an empty folder before it begins.
        self._content = Path(config.docs_dir)
        self._hollow = tempfile.TemporaryDirectory(prefix="journal-")
        if not self._serving:
            self._begin(config)
            config.site_dir = self._hollow.name
        config.docs_dir = self._hollow.name
        return config

    def _begin(self, config: MkDocsConfig) -> None:
        """Take the spare folder of the build before last, with what may stay in it; else an empty one."""
        place, cache = Path(config.site_dir), Path(config.docs_dir).parent / CACHE
        reusable = self.laid is None or (self.laid.view.audience is Audience.PUBLIC and not self.laid.site.offline)
        reusable = reusable and not config.hooks and set(config.plugins) <= HARMLESS
        try:
            self._staging = replace_folder.prepare(place, cache / _SPARE if reusable else None)
        except replace_folder.NotOursError as trouble:
            raise PluginError(str(trouble)) from trouble
        building, notes = self._staging.building, cache / f"{_SPARE}.json"
        if reusable:
            known = incremental.read_pages(notes, building)
            notes.unlink(missing_ok=True)
            whole = () if known is None else (PICTURES[:-1], CARDS[:-1], CLIPS[:-1])
            self._kept = incremental.strip_to(building, known or {}, whole)
            # The spare folder lacks what changed the time before; the site that stands has it.
            self._standing = incremental.read_pages(cache / _CURRENT, self._staging.place) or {}
        self._reusable = reusable

    def _come_home(self, files: Files, config: MkDocsConfig) -> None:
        """From here on the host writes into the folder that is being built."""
        config.docs_dir = os.fspath(self._content)
        if self._staging is not None:
            config.site_dir = os.fspath(self._staging.building)
            for file in files:
                file.dest_dir = config.site_dir
        if self._hollow is not None:
            self._hollow.cleanup()

    @event_priority(_LAST)
    def on_files(self, files: Files, /, *, config: MkDocsConfig) -> Files:
        """Read the journal; put in the pages that a rule makes, and the styles and scripts that mkdocs.yml names."""
        laid = self.laid if self._under_us and self.laid else self._lay(config)
        self.laid = laid
        self._come_home(files, config)
        self._add_pages(laid, files, config)
        assets = assets_of(config) if laid.frame.assets else {}
        for file in [file for file in files if file.src_uri in assets]:
            files.remove(file)
            files.append(File.generated(config, assets[file.src_uri].address, content=assets[file.src_uri].data))
        for path in (*config.extra_css, *config.extra_javascript):
            own = (self._content / str(path)).resolve()
            if own.suffix in _OWN_KINDS and own.is_relative_to(self._content.resolve()) and own.is_file():
                files.append(File(str(path), config.docs_dir, config.site_dir, config.use_directory_urls))
        return files

    def _lay(self, config: MkDocsConfig) -> LaidSite:
        """Open the journal and lay its site; stop where something cannot be used (a preview goes on without it)."""
        journal = open_journal(self._content.parent, today())
        errors = sum(problem.grade is Grade.ERROR for problem in journal.problems)
        if errors and not self._serving:
            # Nothing that is made of a journal with errors would be right.
            self._tell(journal.problems)
            raise PluginError(f"No site was made: {say_count(errors, 'error')} in {CONTENT}/.")
        audience = Audience.PREVIEW if self._serving else Audience.PUBLIC
        laid = lay_site(journal, site_options(config, audience))
        # A preview tells a problem once, not at every save.
        self._tell(one for one in laid.problems if one not in self._told)
        self._told = frozenset(laid.problems) if self._serving else frozenset()
        if config.strict and laid.problems and not self._serving:
            raise PluginError(
                f"No site was made: {say_count(len(laid.problems), 'finding')}, and --strict lets none pass."
            )
        return laid

    def _add_pages(self, laid: LaidSite, files: Files, config: MkDocsConfig) -> None:
        """A virtual file for each page that the host has to write: one that would come out as it did before is
        there already. The newest page is always among them, since the host dates what it writes by it.
        """
        self._fingerprints, self._listed = {}, []
        marks, staging = None, self._staging
        if staging is not None and self._reusable:
            marks = incremental.Fingerprints(
                settings=Path(config.config_file_path),
                templates=[Path(folder) for folder in self._own_templates],
                around=(laid.frame, laid.site.offline, config.site_url, config.use_directory_urls),
            )
        newest: JournalPage | None = None
        for made in laid.pages():
            path = f"{made.address}index.html"
            unchanged = False
            if staging and marks and (mark := marks.of(made)):
                self._fingerprints[path] = mark
                kept = self._kept.get(path)
                unchanged = (kept is not None and kept.fingerprint == mark) or incremental.take_over(
                    self._standing.get(path), mark, staging.place / path, staging.building / path
                )
            self._listed.append(_listed(made, config))
            if unchanged and newest is not None and made.updated <= newest.update_date:
                continue
            file = File.generated(config, f"{made.address}index.md", content="", inclusion=InclusionLevel.NOT_IN_NAV)
            page = JournalPage(made, file, config, unchanged=unchanged)
            if newest is None or made.updated > newest.update_date:
                newest = page
            files.append(file)

    def _tell(self, problems: Iterable[Problem]) -> None:
        for problem in problems:
            say = log.error if problem.grade is Grade.ERROR else log.warning
            say(f"{render_problem(problem)} [{problem.word}]")

    @property
    def _shown(self) -> LaidSite:
        if self.laid is None:
            raise RuntimeError("the host asks for pages before files")
        return self.laid

    def on_env(self, env: jinja2.Environment, /, *, config: MkDocsConfig, files: Files) -> jinja2.Environment:
        """Templates are set up in one place, for the host and for a preview."""
        config.theme.dirs += self._host_templates
        env.loader = FileSystemLoader(config.theme.dirs)
        return set_up_environment(env, self._content.parent)

    def on_page_context(
        self, context: TemplateContext, /, *, page: Page, config: MkDocsConfig, nav: Navigation
    ) -> TemplateContext:
        """What the template places."""
        if isinstance(page, JournalPage) and not page.unchanged:
            context.update(page_context(self._shown.frame, page.made))  # type: ignore[typeddict-item]
        return context

    def on_template_context(
        self, context: TemplateContext, /, *, template_name: str, config: MkDocsConfig
    ) -> TemplateContext:
        """The page for wrong addresses is shown at any depth: its links count from the root of the host. The list for
        search engines names every page, also those that the host did not write this time.
        """
        if template_name == "sitemap.xml":
            context.update({"listed": [page for page in self._listed if page["location"]]})  # type: ignore[misc]
            return context
        lost = PageRecord(
            address=template_name,
            template=template_name,
            title=_("No page here"),
            description=_("There is no page at this address."),
            hidden=True,
        )
        root = str(context["base_url"]).rstrip("/") + "/"
        context.update(page_context(self._shown.frame, lost, root=root))  # type: ignore[typeddict-item]
        return context

    @event_priority(_LAST)
    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Add pictures and files, then put the new site in place of the old."""
        site = Path(config.site_dir)
        # First, for a page that leads on may stand where one stood.
        for path in self._kept.keys() - self._fingerprints.keys():
            drop_file(site, path)
        incremental.place_linked(self._shown.linked, site, (PICTURES, CARDS, CLIPS))
        for address, data in self._shown.files():
            (site / address).parent.mkdir(parents=True, exist_ok=True)
            (site / address).write_bytes(data)
        if self._staging is not None:
            staging, self._staging = self._staging, None
            cache = self._content.parent / CACHE
            if self._reusable:
                # What was known of the current site is what is known of the spare one from now on.
                with contextlib.suppress(FileNotFoundError):
                    (cache / _CURRENT).replace(cache / f"{_SPARE}.json")
                incremental.write_pages(cache / _CURRENT, site, self._fingerprints)
            replace_folder.finish(staging, cache / _SPARE if self._reusable else None)
            config.site_dir = os.fspath(staging.place)
            if not self._under_us:
                log.info(f"The site is in {staging.place}")

    def on_build_error(self, *, error: Exception) -> None:
        """Leave the previous site as it was."""
        if self._hollow is not None:
            self._hollow.cleanup()
        if self._staging is not None:
            replace_folder.abandon(self._staging)
            self._config.site_dir = os.fspath(self._staging.place)
            self._staging = None


def _listed(made: PageRecord, config: MkDocsConfig) -> dict[str, str]:
    """Where a page stands on the network, and the day that it is of; no location where the site has no address."""
    if not config.site_url:
        return {"location": "", "updated": ""}
    address = quote(made.address if config.use_directory_urls else f"{made.address}index.html")
    return {"location": config.site_url.rstrip("/") + "/" + address, "updated": made.updated or _EPOCH}


def _worth_telling(record: logging.LogRecord) -> bool:
    """Leaves out what the host says of folders that are not the user's, and of pages that are there already."""
    return not str(record.msg).startswith(
        ("Page skipped: ", "Cleaning site directory", "Building documentation to directory")
    )


def _silence_search(config: MkDocsConfig) -> None:
    """The host's search would parse every page for an index that nobody asks."""
    for name in ("material/search", "search"):
        plugin: Any = config.plugins.get(name)
        if plugin is not None and "enabled" in plugin.config:
            plugin.config["enabled"] = False
    config.extra_javascript = [script for script in config.extra_javascript if str(script) != "search/main.js"]
