"""The host of a site: a laid site in, a finished folder out.

mkdocs reads mkdocs.yml, keeps the theme and writes the pages; what they say comes from `lay_site`.
"""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Iterator, Mapping
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

import journal.quiet  # noqa: F401  (first: it keeps the theme's notice away)
from journal.base.problems import SiteError
from journal.base.words import ENGLISH, _, content_lang, interface_lang, lang_of, ngettext, speak
from journal.ledger.journal import CACHE
from journal.making.assets import Asset, named_assets
from journal.making.lay_site import SETTINGS, LaidSite
from journal.site.frame import SiteOptions
from journal.view.view import Audience

HARMLESS = frozenset({"journal", "search", "material/search"})
"""Plugins that do not change a page once it is rendered."""

if TYPE_CHECKING:
    import jinja2
    from mkdocs.config.defaults import MkDocsConfig


def write_site(laid: LaidSite, config: MkDocsConfig) -> Path:
    """Put a laid site in the place that `config` names; the folder where it is.

    Raises SiteError for what the user can mend, OSError where nothing can be written.
    """
    from mkdocs.commands.build import build
    from mkdocs.exceptions import MkDocsException

    with _host_words() as words:
        try:
            plugin: Any = config.plugins["journal"]
            plugin.laid = laid
            config.plugins.on_startup(command="build", dirty=False)
            try:
                build(config)
            finally:
                config.plugins.on_shutdown()
                speak()
        except (MkDocsException, SystemExit) as trouble:
            raise SiteError("; ".join(words) or str(trouble)) from trouble
    return Path(config.site_dir)


def load_settings(root: Path, *, out: Path | None = None, offline: bool = False) -> MkDocsConfig:
    """mkdocs.yml of the build folder, with the journal's plugin among its plugins.

    Raises SiteError where there is none or it cannot be used.
    """
    from mkdocs.config import load_config
    from mkdocs.exceptions import MkDocsException

    file = root / SETTINGS
    if not file.is_file():
        raise SiteError(f"{SETTINGS}: not found in {root}; `journal begin` writes one")
    options: dict[str, Any] = {}
    if out is not None:
        options["site_dir"] = os.fspath(out.absolute())
    if offline:
        options["use_directory_urls"] = False
    with _host_words() as words:
        try:
            config = load_config(os.fspath(file), **options)
        except MkDocsException as trouble:
            raise SiteError(f"{SETTINGS}: {'; '.join(words) or trouble}") from trouble
    if "journal" not in config.plugins:
        raise SiteError(f"{SETTINGS}: the list of plugins lacks `journal`; write `plugins: [search, journal]`")
    if offline:
        # What has no address on the network cannot have a canonical one.
        config.site_url = None
    return config


def site_options(config: MkDocsConfig, audience: Audience, *, offline: bool = False) -> SiteOptions:
    """What mkdocs.yml says of the site, as `lay_site` wants it."""
    return SiteOptions(
        audience=audience,
        offline=offline,
        site_name=config.site_name,
        site_url=config.site_url or "",
        notice=config.plugins["journal"].config["notice"],
        copyright=config.copyright or "",
        description=config.site_description or "",
        language=str(config.theme.get("language") or "en"),
        # Nothing old lies beside a preview or in an archive.
        assets={address: one.address for address, one in assets_of(config).items()}
        if audience is Audience.PUBLIC and not offline
        else {},
    )


def assets_of(config: MkDocsConfig) -> Mapping[str, Asset]:
    """Our styles and scripts as they are published, the builder's own in place of those of the same name."""
    return named_assets(theme_dir(), Path(config.theme.custom_dir) if config.theme.custom_dir else None)


def settled_by(config: MkDocsConfig) -> tuple[str, ...] | None:
    """Folders beside content/ that shape a site made with `config`; None where something unforeseen does too: a hook,
    another plugin, settings taken from elsewhere.
    """
    words = Path(config.config_file_path).read_text("utf-8", errors="replace")
    if config.hooks or not set(config.plugins) <= HARMLESS or "!ENV" in words or "INHERIT" in words:
        return None
    return (os.fspath(config.theme.custom_dir),) if config.theme.custom_dir else ()


def theme_dir() -> Path:
    """The folder with our templates, styles, scripts and type."""
    return _beside("theme", "theme_overrides")


def docs_dir() -> Path:
    """The folder with the documents."""
    return _beside("docs", "docs")


def _beside(in_wheel: str, in_checkout: str) -> Path:
    """A folder that lies in the package in a wheel, and beside it in a checkout."""
    package = Path(__file__).resolve().parents[1]
    return package / in_wheel if (package / in_wheel).is_dir() else package.parent / in_checkout


def shipped_digests() -> frozenset[str]:
    """Digests of the files that come with the program, also as they are published: their words are ours."""
    files = [path.read_bytes() for path in (*theme_dir().rglob("*"), *docs_dir().glob("*.md")) if path.is_file()]
    files += [one.data for one in named_assets(theme_dir()).values()]
    return frozenset(sha256(data).hexdigest() for data in files)


def shipped_words() -> frozenset[str]:
    """Words in small letters of the files that come with the program: they stand on every site, whoever builds."""
    package = Path(__file__).resolve().parents[1]
    kinds = ("*.html", "*.js", "*.csv", "*.json", "*.yml", "*.pot")
    texts = (path.read_text("utf-8") for kind in kinds for root in (theme_dir(), package) for path in root.rglob(kind))
    return frozenset(word for text in texts for word in re.findall(r"(?<![^\W_])[a-z]{2,}(?![^\W_])", text))


def use_own_theme(config: MkDocsConfig) -> None:
    """Put our templates under the builder's own and above the host's."""
    ours = os.fspath(theme_dir())
    if ours not in config.theme.dirs:
        config.theme.dirs.insert(1 if config.theme.custom_dir else 0, ours)


def set_up_environment(env: jinja2.Environment, root: Path) -> jinja2.Environment:
    """Records hold text, which templates may place without a second thought. Compiled ones are kept in the cache of
    the build folder `root`; a disk that is full there costs time and no page.
    """
    from jinja2 import FileSystemBytecodeCache
    from jinja2.bccache import Bucket

    class Kept(FileSystemBytecodeCache):
        def dump_bytecode(self, bucket: Bucket) -> None:
            with contextlib.suppress(OSError):
                super().dump_bytecode(bucket)

    with contextlib.suppress(OSError):
        folder = root / CACHE / "templates"
        folder.mkdir(parents=True, exist_ok=True)
        env.bytecode_cache = Kept(os.fspath(folder), pattern="escaped-%s.cache")
    env.autoescape = True
    env.add_extension("jinja2.ext.i18n")
    env.install_gettext_callables(_, ngettext)  # type: ignore[attr-defined]
    env.globals |= {
        "content_lang": lambda: Markup(content_lang()),
        "interface_lang": lambda: Markup(interface_lang()),
        "english_lang": lambda: Markup(lang_of(ENGLISH)),  # what ships in English: tables of the trade, terms
    }
    env.trim_blocks = env.lstrip_blocks = True
    return env


@contextlib.contextmanager
def _host_words() -> Iterator[list[str]]:
    """What the host says of warnings and errors while it works under us, instead of on the terminal."""
    import logging

    words: list[str] = []

    class Collect(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            words.append(record.getMessage())

    logger = logging.getLogger("mkdocs")
    handler = Collect(level=logging.ERROR)
    propagate = logger.propagate
    logger.addHandler(handler)
    logger.propagate = False
    try:
        yield words
    finally:
        logger.removeHandler(handler)
        logger.propagate = propagate
