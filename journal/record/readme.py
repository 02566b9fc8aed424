"""README.txt of an archive: what is in it, and how a stranger checks it with common tools."""

from __future__ import annotations


def render_readme(name: str, *, without_private: bool, zipped: bool) -> str:
    """README.txt: what is in the archive, and how to check it with what every machine has."""
    contents = [
        "data/index.html    the record as a site; open it in a browser, no network needed",
        "data/record.pdf    the same to print",
        "data/tables/       the same as tables (CSV)",
    ]
    if not without_private:
        contents += [
            "data/source/       the build itself: mkdocs.yml, and content/ with every text and every original",
            "                   photo, bit for bit; copied to a folder of its own, it is the build again",
        ]
    unpack = "Unpack the zip first. " if zipped else ""
    lines = [
        f"{name}",
        "=" * len(name),
        "",
        "This folder is the record of building an aircraft, kept in the BagIt format (RFC 8493).",
        *(
            ["It was made without anything private and without originals; it is not a backup."]
            if without_private
            else []
        ),
        "",
        "What is in it",
        "-------------",
        *contents,
        "",
        "How to check that nothing was changed, lost or added",
        "----------------------------------------------------",
        f"{unpack}manifest-sha256.txt lists the SHA-256 digest of every file under data/,",
        "tagmanifest-sha256.txt those of the files beside it. Open a terminal in this folder and type:",
        "",
        "  Linux      sha256sum -c --quiet tagmanifest-sha256.txt manifest-sha256.txt",
        "  macOS      shasum -a 256 -c --quiet tagmanifest-sha256.txt manifest-sha256.txt",
        "  Windows    certutil -hashfile data\\record.pdf SHA256     (one file; compare with its line)",
        "",
        "No line of answer means that every listed file is as it was. To see files that are not listed, compare",
        "the number of files under data/ with the number behind the dot of Payload-Oxum in bag-info.txt.",
        "Any program for BagIt does all of it at once. The program that made this archive does too,",
        "and checks the seals and time-stamps as well: journal verify FOLDER",
        "",
        "If names-as-they-are-sha256.txt is here, some names hold a percent sign or a line break, which the BagIt",
        "format writes as %25, %0D or %0A; use that list in place of manifest-sha256.txt for sha256sum.",
        "",
    ]
    if not without_private:
        lines += [
            "What the seals show",
            "-------------------",
            "data/source/content/seals.jsonl has one line for each entry and inspection: digests of its text and",
            "photos, the time it was sealed, and the digest of the line before. So nothing can be changed, taken out",
            "or put in between without every later line showing it, and a change made later is a line that says why.",
            "The times are those of the builder's clock. The digest of the last line is in bag-info.txt; if it was",
            "printed, mailed or time-stamped at some day, all lines up to it existed on that day.",
            "",
        ]
    lines += [
        "The kit manual and drawings come first, then the authority's rules, then a licensed inspector; this record",
        "informs them and decides nothing.",
    ]
    return "\n".join(lines) + "\n"
