"""Tables and posts of earlier years as builders kept them, taken over without a hand and to the minute."""

from __future__ import annotations

import csv
import html
import io
import json
import re
import shutil
from collections import Counter, defaultdict
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from making import read
from old_posts import OldPost, write_old_posts

from journal.base.model import Entry
from journal.base.prose_tree import new_markdown
from journal.commands.main import main

EARLIER = Path(__file__).with_name("earlier")
EXPECTED: dict[str, Any] = json.loads((EARLIER / "expected.json").read_text("utf-8"))
ROWS: dict[str, list[dict[str, str]]] = defaultdict(list)
for _row in csv.DictReader(io.StringIO((EARLIER / "rows.csv").read_text("utf-8-sig"))):
    ROWS[_row["file"]].append(_row)
LONG = "c-eight-years.ods"


def adopt(root: Path, *arguments: object) -> Any:
    """`journal adopt` in the build that the tables belong to."""
    (root / "content").mkdir(parents=True, exist_ok=True)
    shutil.copyfile(EARLIER / "build.yml", root / "content/build.yml")
    return CliRunner().invoke(main, ["adopt", "--build", str(root), *map(str, arguments)])


def _told(entry: Entry) -> tuple[str, str, int, str]:
    words = " ".join(entry.body.replace("\\", "").casefold().split())
    return entry.date.isoformat(), entry.assembly, entry.minutes, words


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.slow) if name == LONG else name for name in sorted(EXPECTED)]
)
def test_a_table_comes_over_to_the_minute(tmp_path: Path, name: str) -> None:
    """Days, assemblies and minutes are those that were meant, and a second adoption adds nothing; the one that nobody
    can read is refused, and all that is wrong with it is told at once.
    """
    expected = EXPECTED[name]
    result = adopt(tmp_path, EARLIER / name, *expected["options"], "--write")
    build = read(tmp_path)[0]
    if expected.get("refused"):
        assert result.exit_code == 1
        assert build.entries == ()
        for wrong in expected["has_to_be_told"]:
            for line in range(wrong["row"], wrong.get("rows", [0, wrong["row"]])[1] + 1):
                assert f"{name}:{line}:1: row {line - 1}:" in result.output
            assert f'"{wrong["cell"]}"' in result.output
        return
    assert result.exit_code == 0, result.output
    assert len(build.entries) == expected["work_rows"]
    assert len({entry.date for entry in build.entries}) == expected["days"]
    assert sum(entry.minutes for entry in build.entries) == expected["minutes"]
    by_assembly: Counter[str] = Counter()
    for entry in build.entries:
        by_assembly[entry.assembly] += entry.minutes
    assert by_assembly == expected["minutes_by_assembly"]
    told = [_told(entry) for entry in build.entries]
    for row in ROWS[name]:
        meant = (row["day"], row["assembly"], int(row["minutes"]))
        words = " ".join(row["text"].casefold().split())
        told.remove(next(one for one in told if one[:3] == meant and one[3].startswith(words)))
    assert told == []
    assert (build.entries[0].date.isoformat(), build.entries[-1].date.isoformat()) == (
        expected["first_day"],
        expected["last_day"],
    )
    again = adopt(tmp_path, EARLIER / name, *expected["options"], "--write")
    assert "Written: 0 entries." in again.output


@pytest.mark.slow
@pytest.mark.parametrize("seed", [2019, 7])
def test_every_old_post_comes_over(tmp_path: Path, seed: int) -> None:
    """Its day, title, assembly, hours, words in their order, links and pictures; what a program cannot tell is told."""
    posts = write_old_posts(tmp_path / "blog", seed)
    root = tmp_path / "build"
    refused = adopt(root, tmp_path / "blog", "--assembly", "workshop", "--write")
    assert refused.exit_code == 1
    result = adopt(root, tmp_path / "blog", "--assembly", "workshop", "--skip-faulty", "--write", "--all")
    assert result.exit_code == 0, result.output
    entries = {entry.date.isoformat(): entry for entry in read(root)[0].entries}
    assert len(entries) == sum(post.day is not None for post in posts)
    for post in posts:
        if post.day is None:
            assert f"{post.file}: no day is told" in result.output or f"item {post.number}: no day" in result.output
            continue
        entry = entries[post.day]
        _check_words(post, entry.body)
        assert post.title in (entry.title, None)
        assert post.assembly in (entry.assembly, None)
        assert entry.minutes == (post.minutes or 0)
        brought = {one.read_bytes() for one in (root / entry.src_uri).parent.iterdir()}
        assert all((tmp_path / "blog" / picture.file).read_bytes() in brought for picture in post.pictures)
        assert all(f"![{picture.caption}](" in entry.body for picture in post.pictures)
        assert all(one.rpartition("/")[2] in result.output for one in (*post.missing, *post.by_address))


def _check_words(post: OldPost, body: str) -> None:
    drawn = new_markdown().convert(body)
    seen = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", drawn)).split())
    at = 0
    for words in post.words:
        at = seen.index(" ".join(words.split()), at)
    assert not [one for one in post.unwanted if one in seen]
    assert all(link in html.unescape(drawn) for link in post.links)
