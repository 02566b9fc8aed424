"""Files kept for ever, and what a program says of them: `tests/kept/VERSION/`.

A kept folder holds `build/` (a whole build folder, as builders of that version had it), `day.txt` (the day on
which the program was asked) and the answers it gave: `hours.json`, `check.json`; where nothing is wrong with the
build also `journal.json` (open data of its site). The version's own folder has its archives too, `archives.tar.xz`
(both, as zips), and what `verify` said of them, `verify.json`; smaller builds in folders inside it go without.

To keep what a new version makes, put a build into `tests/kept/VERSION/build/`, seal it with that version, and run

    python tests/keeping.py tests/kept/VERSION 2026-11-27

What is kept is never made anew: a folder that has answers is refused.

Nothing here names a module of the program: it is asked as its users ask it, by its commands.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import sys
import tarfile
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import entry_points
from pathlib import Path
from typing import Any

from click.testing import CliRunner

ARCHIVES = {"archive.zip": (), "archive-without-private.zip": ("--without-private",)}
"""The archives that are kept, and what each is asked for with. A zip is stored, not packed: 3 MB of them pack into
0.7 MB together, so they lie in one `.tar.xz`."""

PACKED = "archives.tar.xz"


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What a command printed, and its exit code."""

    code: int
    text: str
    trouble: str

    @property
    def data(self) -> Any:
        """What was printed, as JSON."""
        return json.loads(self.text)


def ask(day: str, *command: str) -> Said:
    """Run one command of the installed program as on that day, at noon UTC."""
    (program,) = {point.value: point for point in entry_points(group="console_scripts", name="journal")}.values()
    noon = datetime.fromisoformat(f"{day}T12:00:00").replace(tzinfo=UTC)
    env = {"SOURCE_DATE_EPOCH": str(int(noon.timestamp()))}
    done = CliRunner().invoke(program.load(), command, env=env, catch_exceptions=False)
    return Said(code=done.exit_code, text=done.stdout, trouble=done.stderr)


def kept_folders(top: Path) -> Iterator[Path]:
    """Every kept folder in or under `top`, in order."""
    yield from sorted({path.parent for path in top.rglob("build") if (path / "mkdocs.yml").is_file()})


def day_of(kept: Path) -> str:
    """The day on which the answers were given: some findings depend on it."""
    return (kept / "day.txt").read_text("utf-8").strip()


def digests(folder: Path) -> dict[str, str]:
    """Relative path -> SHA-256 of every file."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def open_data(build: Path, day: str, out: Path) -> Any:
    """journal.json of the public site, made in `out`."""
    said = ask(day, "site", "--build", str(build), "--out", str(out))
    assert said.code == 0, said.text + said.trouble
    return json.loads((out / "journal.json").read_text("utf-8"))


def verified(archive: Path, day: str) -> Any:
    """What `verify` says of an archive, but for where it lies."""
    said = ask(day, "verify", "--json", str(archive)).data
    return {key: value for key, value in said.items() if key != "archive"}


def unpack(kept: Path, into: Path) -> dict[str, Path]:
    """The kept archives by name, unpacked into a folder."""
    with tarfile.open(kept / PACKED) as packed:
        packed.extractall(into, filter="data")
    return {name: into / name for name in ARCHIVES}


def keep(kept: Path, day: str, *, archives: bool) -> None:
    """Ask the program about `build/`, and store its answers beside it."""
    answers: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as name:
        scratch = Path(name)
        build = Path(shutil.copytree(kept / "build", scratch / "build"))
        answers["hours.json"] = ask(day, "hours", "--json", "--build", str(build)).data
        checked = ask(day, "check", "--json", "--build", str(build))
        answers["check.json"] = checked.data
        if checked.code == 0:
            answers["journal.json"] = open_data(build, day, scratch / "site")
        if archives:
            for archive, options in ARCHIVES.items():
                said = ask(day, "archive", "--build", str(build), "--zip", "--out", str(scratch / archive), *options)
                assert said.code == 0, said.text + said.trouble
            answers["verify.json"] = {archive: verified(scratch / archive, day) for archive in ARCHIVES}
            with tarfile.open(kept / PACKED, "w:xz", preset=9) as packed:
                for archive in ARCHIVES:
                    packed.add(scratch / archive, archive, filter=_nameless)
    (kept / "day.txt").write_bytes(f"{day}\n".encode())
    for file, answer in answers.items():
        (kept / file).write_bytes((json.dumps(answer, indent=1, ensure_ascii=False) + "\n").encode())


def answers_of(kept: Path) -> Path:
    """The answer that every kept folder has."""
    return kept / "hours.json"


def _nameless(member: tarfile.TarInfo) -> tarfile.TarInfo:
    """Without the names of who packed it."""
    member.uid = member.gid = 0
    member.uname = member.gname = ""
    return member


def main() -> None:
    """Keep what this program makes of the builds under the folder named."""
    top, day = Path(sys.argv[1]), sys.argv[2]
    folders = list(kept_folders(top))
    if not folders:
        sys.exit(f"{top}: no build/ with a mkdocs.yml is here")
    for kept in folders:
        if answers_of(kept).exists():
            sys.exit(f"{kept}: has answers already; what is kept is never made anew")
    for kept in folders:
        keep(kept, day, archives=kept == top)
        print(f"{kept}: {sum(path.stat().st_size for path in kept.rglob('*') if path.is_file()):,} bytes")


if __name__ == "__main__":
    main()
