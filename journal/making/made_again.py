"""An archive's site, binder and tables made anew from its source, and held against those that lie in it.

Nothing of an archive is ever run: of its mkdocs.yml the name, address, notice and language of the site are read, as
text, and the rest of the settings are ours. Hooks, plugins, templates and styles of a builder take no part.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import yaml

from journal.base.byte_progress import Begin, quietly
from journal.base.digests import digest_stream, file_sha256, sha256_of
from journal.base.problems import SiteError, has_errors
from journal.ledger.journal import open_journal
from journal.making.archive_parts import make_parts, program_digest
from journal.making.lay_site import SETTINGS
from journal.record.archive import DAY, MADE_AT, PROGRAM, fill_readable, render_beside
from journal.record.bag import INFO, MANIFEST, PAYLOAD, README, TAG_MANIFEST, parse_manifest, parse_tags, read_tag
from journal.record.container import OpenBag, is_safe, open_bag
from journal.record.damage import Damage, DamageKind, damaged, sort_damage
from journal.record.verify import MADE_ONCE, SOURCE, VERIFIER, Report, find_archive, some_names
from journal.view.view import Audience, open_view

_TEXTS = ("site_name", "site_url", "site_description", "copyright")


def compare_again(report: Report, *, begin: Begin = quietly) -> Report:
    """`report` with what making the archive's readable parts anew brings: where the same program made them, everything
    that differs is damage; where another one did, it is told as not checked.
    """
    if not report.complete:
        return _unchecked(report, "site, binder and tables: there is no source that they could be made from")
    with open_bag(find_archive(Path(report.path))) as bag, TemporaryDirectory() as scratch:
        info = dict(parse_tags(read_tag(bag, INFO) or b"") or [])
        try:
            made_at, day = datetime.fromisoformat(info[MADE_AT]), date.fromisoformat(info[DAY])
        except (KeyError, ValueError):
            told = "site, binder and tables: an earlier version made them, which did not note down the time and day"
            return _unchecked(report, told)
        root = Path(scratch, "build")
        own = _unpack(bag, root)
        listed, _ = parse_manifest(MANIFEST, read_tag(bag, MANIFEST) or b"")
        journal = open_journal(root, day)
        if has_errors(journal.problems) and info.get(PROGRAM) == program_digest():
            why = "has errors, so no archive can have been made of it"
            found = [*report.damage, damaged(DamageKind.NOT_FROM_SOURCE, SOURCE, why)]
            return replace(_unchecked(report), damage=sort_damage(found))
        if has_errors(journal.problems):
            return _unchecked(report, "site, binder and tables: the source has errors now (journal check tells them)")
        try:
            view = open_view(journal, Audience.ARCHIVE)
            parts = make_parts(journal, made_at, view=view, begin=begin)
            Path(scratch, "made").mkdir()
            fill_readable(Path(scratch, "made"), parts)
        except SiteError as trouble:
            return _unchecked(report, f"site, binder and tables: they cannot be made: {trouble}")
        made = {
            f"{PAYLOAD}{path.relative_to(Path(scratch, 'made/data')).as_posix()}": file_sha256(path)[0]
            for path in Path(scratch, "made/data").rglob("*")
            if path.is_file()
        } | {name: sha256_of(data) for name, data in render_beside(view, parts).items()}
        beside, _ = parse_manifest(TAG_MANIFEST, read_tag(bag, TAG_MANIFEST) or b"")
    there = {path: digest for path, digest in listed.items() if not path.startswith(SOURCE)}
    there |= {name: digest for name, digest in beside.items() if name in (README, VERIFIER)}
    differing = sorted(path for path in there.keys() | made.keys() if there.get(path) != made.get(path))
    if not differing:
        said = f"Made anew from the source: all {len(made):,} files of site, binder and tables are the same."
        return replace(_unchecked(report), notes=(*report.notes, said))
    if info.get(PROGRAM) != program_digest():
        told = "another version of the program or its libraries made them, so a difference may be theirs"
    elif own:
        told = "the builder's own templates or settings took part, and are never run here"
    else:
        found = [*report.damage, *(_differs(path, there, made) for path in differing)]
        return replace(_unchecked(report), damage=sort_damage(found))
    told = f"{len(differing):,} of {len(there):,} files of site, binder and tables, which came out otherwise: {told}"
    return _unchecked(report, f"{told} ({some_names(differing)})")


def _unchecked(report: Report, *told: str) -> Report:
    return replace(report, unchecked=(*told, *(one for one in report.unchecked if one != MADE_ONCE)))


def _differs(path: str, there: Mapping[str, str], made: Mapping[str, str]) -> Damage:
    if path not in made:
        told = "does not come of the source: somebody put it in"
    elif path not in there:
        told = "comes of the source and is not there"
    else:
        told = "does not say what the source says: made anew it is another"
    return damaged(DamageKind.NOT_FROM_SOURCE, path, told)


def _unpack(bag: OpenBag, root: Path) -> bool:
    """Write content/ into `root` with settings of ours; whether the builder's own settings do more than ours."""
    for path in bag.files:
        name = path.removeprefix(SOURCE)
        if path.startswith(f"{SOURCE}content/") and is_safe(name):
            (root / name).parent.mkdir(parents=True, exist_ok=True)
            with bag.open(path) as source, (root / name).open("wb") as sink:
                digest_stream(source, sink)
    for folder in bag.empty_folders:
        if folder.startswith(f"{SOURCE}content/"):
            (root / folder.removeprefix(SOURCE)).mkdir(parents=True, exist_ok=True)
    settings, more = read_settings(read_tag(bag, SOURCE + SETTINGS) or b"")
    (root / SETTINGS).write_text(yaml.safe_dump(settings, allow_unicode=True), "utf-8")
    return more


def read_settings(data: bytes) -> tuple[dict[str, Any], bool]:
    """(settings of ours with the words of a mkdocs.yml, whether that one asks for more than these). Everything in it is
    text, lists and mappings: no tag of YAML makes anything here.
    """
    found: Any = None
    with suppress(yaml.YAMLError, UnicodeDecodeError, RecursionError):
        found = yaml.load(data.decode(), Loader=yaml.BaseLoader)
    found = _by_name(found)
    settings: dict[str, Any] = {key: said for key in _TEXTS if isinstance(said := found.get(key), str)}
    theme, plugins = _by_name(found.get("theme")), found.get("plugins")
    named = _by_name(plugins)
    for item in plugins if isinstance(plugins, list) else ():
        named |= _by_name(item) if isinstance(item, dict) else {str(item): None}
    settings["theme"] = {"name": "material", "font": False}
    if isinstance(language := theme.get("language"), str):
        settings["theme"]["language"] = language
    said = _by_name(named.get("journal")).get("notice")
    notice = {"notice": said} if isinstance(said, str) else {}
    settings |= {"docs_dir": "content", "plugins": ["search", {"journal": notice}]}
    asked = found.keys() - {*_TEXTS, "docs_dir", "theme", "plugins", "extra", "watch"}
    asked |= theme.keys() - {"name", "font", "language"} | named.keys() - {"search", "journal"}
    more = bool(asked) or theme.get("name", "") != "material"
    return {"site_name": "Build", **settings}, more


def _by_name(node: Any) -> dict[str, Any]:
    return node if isinstance(node, dict) else {}
