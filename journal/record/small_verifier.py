"""The small verifier that every archive carries: the modules of `journal verify` in one file that Python itself runs.

It needs Python 3.11 and nothing installed: rfc8785 (pure Python, with its licence) goes into it. Time-stamps are told
as not checked, because their signatures need a library of cryptography.
"""

from __future__ import annotations

import argparse
import io
import json
import sys
import zipfile
from collections.abc import Sequence
from importlib.metadata import files as installed_files
from pathlib import Path

from journal.record.verify import VERIFIER, Known, parse_digest, verify

WHOM_TO_TRUST = (
    "This verifier came with the archive. It finds damage and mistakes, but proves nothing against whoever made the "
    "archive and could have changed it, too: take one from elsewhere where that matters."
)
_MODULES = (
    *("", "base/", "record/"),
    *(f"base/{name}.py" for name in ("addresses", "byte_progress", "digests", "formatting", "table_text", "words")),
    *(
        f"record/{name}.py"
        for name in ("bag", "chain", "container", "damage", "sealed_parts", "small_verifier", "verify")
    ),
)
_START = b"from journal.record.small_verifier import run_verifier\n\nraise SystemExit(run_verifier())\n"
_MADE = (1980, 1, 1, 0, 0, 0)
"""The time of every file in it: the same program gives the same bytes."""


def render_verifier() -> bytes:
    """The file `verify.pyz`: a zip of sources (PEP 441)."""
    package = Path(__file__).parents[1]
    members = {f"journal/{name}": package / name for name in _MODULES if name.endswith(".py")}
    members |= {f"journal/{name}__init__.py": package / name / "__init__.py" for name in _MODULES if name[-3:] != ".py"}
    for file in installed_files("rfc8785") or ():
        if file.suffix == ".py" or file.name.startswith("LICEN"):
            members[f"rfc8785/{file.name}"] = Path(str(file.locate()))
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, data in [
            ("__main__.py", _START),
            *((name, path.read_bytes()) for name, path in sorted(members.items())),
        ]:
            archive.writestr(zipfile.ZipInfo(name, _MADE), data)
    return b"#!/usr/bin/env python3\n" + packed.getvalue()


def run_verifier(arguments: Sequence[str] | None = None) -> int:
    """Verify what the command line names; the exit codes are those of `journal verify`."""
    parser = argparse.ArgumentParser(prog=f"python3 {VERIFIER}", description=f"Verify an archive. {WHOM_TO_TRUST}")
    parser.add_argument("path", nargs="?", help="folder or zip (default: the folder that this file lies in)")
    parser.add_argument("--expect", metavar="FINGERPRINT", default="", help="the fingerprint, from elsewhere")
    parser.add_argument(
        "--head", metavar="DIGEST", default="", help="the digest of a line of the chain, from elsewhere"
    )
    parser.add_argument("--json", action="store_true", help="print JSON")
    given = parser.parse_args(arguments)
    digests = {name: parse_digest(getattr(given, name)) for name in ("expect", "head")}
    for name in (name for name, digest in digests.items() if digest is None):
        parser.error(f"--{name}: a digest is 64 hexadecimal digits")
    known = Known(fingerprint=digests["expect"] or "", head=digests["head"] or "")
    try:
        report = verify(Path(given.path or Path(sys.argv[0]).resolve().parent), known=known)
    except OSError as trouble:
        print(f"{given.path}: {trouble.strerror or trouble}", file=sys.stderr)
        return 3
    print(WHOM_TO_TRUST, file=sys.stderr)
    print(json.dumps(report.as_json(), indent=2) if given.json else "\n".join(report.tell()))
    return 0 if report.ok else 1
