"""README.txt of an archive: what is in it, and how a stranger checks it with what every machine has."""

from __future__ import annotations

from textwrap import fill

from journal.base.formatting import WHO_DECIDES

_BEGINNING = """\
This folder is the record of building an aircraft, kept in the BagIt format (RFC 8493).
"""

_READING_COPY = """\
It was made without anything private and without originals: it is for reading, and no backup.
"""

_CONTENTS = """
What is in it
-------------
data/index.html    the record as a site; open it in a browser, no network needed
data/record.pdf    the same to print
data/tables/       the same as tables (CSV)
"""

_SOURCE = """\
data/source/       the build itself: mkdocs.yml, and content/ with every text and every original photo,
                   bit for bit; copied to a folder of its own it is the build again
"""

_CHECK = """
How to check that nothing was changed, lost or added
----------------------------------------------------
(If this came in a zip, unpack it first.) manifest-sha256.txt lists the SHA-256 digest of every file
under data/, tagmanifest-sha256.txt those of the files beside it. Open a terminal in this folder and type

  Linux      sha256sum -c --quiet tagmanifest-sha256.txt manifest-sha256.txt
  macOS      shasum -a 256 -c --quiet tagmanifest-sha256.txt manifest-sha256.txt
  Windows    certutil -hashfile data\\record.pdf SHA256      (one file; compare with its line)

No answer means that every listed file is as it was. To see whether files were added, compare the number
of files under data/ with the number behind the dot of Payload-Oxum in bag-info.txt. Any program for BagIt
does all of it at once. So do the program that made this archive, and the small one that lies in it and
needs nothing but Python 3.11; both check the seals as well:

  journal verify FOLDER
  python3 verify.pyz

Whoever can change a file can change the lists and verify.pyz too. What cannot be changed is a digest written
down elsewhere: that of tagmanifest-sha256.txt fixes every byte of this archive (--expect DIGEST).

Should there be a file names-as-they-are-sha256.txt: some names hold a percent sign or a line break, which
the BagIt format writes as %25, %0D, %0A. Give sha256sum that list in place of manifest-sha256.txt.
"""

_SEALS = """
What the seals show
-------------------
data/source/content/seals.jsonl has a line for each entry, inspection and measurement, row of a list, setting
and record: digests of what it says and of its photos, when it was sealed, and the digest of the line before
(data/about/seals.md tells its form). A line that is edited, taken out, put in or moved
no longer fits its neighbours, and a change made after sealing is a line of its own that says why. The times
are those of the builder's clock. bag-info.txt repeats the digest of the last line: if that digest was
printed, mailed or time-stamped on some day, every line up to it existed on that day.
"""

RECORD_CAUTION = f"This record is evidence and gives no verdict. {WHO_DECIDES}. The authority decides."

_END = f"""
{fill(WHO_DECIDES + ". This record informs them and decides nothing.", 100)}
"""


def render_readme(title: str, *, without_private: bool, guide: str = "") -> str:
    """The text, under `title`; an archive made without private things has no source and no seals.

    `guide` says what the tables hold.
    """
    parts = [title, "\n", "=" * len(title), "\n\n", _BEGINNING]
    if without_private:
        parts += [_READING_COPY, _CONTENTS, _CHECK]
    else:
        parts += [_CONTENTS, _SOURCE, _CHECK, _SEALS]
    if guide:
        parts += ["\nWhat the tables hold\n--------------------\n", guide]
    return "".join([*parts, _END])
