"""Forgeries by somebody who knows the format: whatever is changed, the lists are written anew, so that every digest of
the bag agrees (RFC 8493 finds nothing). Each is found, or what it changed is named under what was not checked; and
each is found by a reader who wrote the fingerprint down.
"""

from __future__ import annotations

import json
import random
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from archiving import ENTRY, LOOK, PHOTO, SEALS, TEXT, agree, archived, bagit_accepts, opened, write_build
from making import entry
from small_build import TODAY, write_small_build
from test_timestamps import Authority, make_authority

from journal.base.byte_progress import quietly
from journal.ledger.journal import open_journal
from journal.making.archive_parts import make_parts
from journal.making.made_again import compare_again, read_settings
from journal.record.archive import ArchivePlace, write_archive
from journal.record.chain import CHAIN, HEAD, parse_chain, render_head, render_line
from journal.record.sealed_parts import cut_parts
from journal.record.seals import seal
from journal.record.small_verifier import WHOM_TO_TRUST
from journal.record.timestamps import render_request
from journal.record.verify import Known, Report, verify
from journal.view.view import Audience, open_view

CONTENT = "data/source/content"
SETTINGS = "site_name: Tarn\ndocs_dir: content\ntheme: {name: material, font: false}\nplugins: [search, journal]\n"
LISTS = {
    "callouts.csv": "step,what,part,value\n5.1,torque,AN3,20 to 25 in-lb\n",
    "tasks.csv": "section,task,name,maker,paid,assembly,fabrication\nWings,1,Ribs,2,0,8,0\n",
    "tools.csv": "name,checked_on,check_every_months\nsmall wrench,2025-11-20,12\n",
    "materials.csv": "id,name,batch,expires,record\nprimer,Wash primer,B-17,2026-12-31,\n",
    "records/records.csv": "file,date,kind,title\ninvoice.txt,2026-01-12,invoice,Kit invoice\n",
    "bulletins.csv": "id,date,title,concerns,state,done_in,record,note\nSB-1,2026-01-01,Look,5.1,open,,,\n",
    "measurements/2026-02-10-leak/index.md": (
        "---\ndate: 2026-02-10\nkind: leak test\nassembly: flaps\nmeasured_by: ada\ninstrument: gauge\n"
        "results: [{what: pressure, value: 0.2 bar}]\n---\n\nHeld.\n"
    ),
}


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    """The service that the builder asked, and whose certificate a reader can get from it."""
    return make_authority(tmp_path_factory.mktemp("authority"))


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory, authority: Authority) -> Path:
    """A bag with every kind of list, sealed, its last line time-stamped."""
    root = write_build(tmp_path_factory.mktemp("build"))
    for name, text in LISTS.items():
        (root / "content" / name).parent.mkdir(parents=True, exist_ok=True)
        (root / "content" / name).write_text(text)
    seal(root, opened(root), now=datetime(2026, 2, 11, tzinfo=UTC), ask=lambda changes: "")
    head = parse_chain((root / CHAIN).read_bytes()).head
    (root / "content/seals/may.tsr").write_bytes(authority.answer(render_request(head)))
    out = tmp_path_factory.mktemp("archive") / "out"
    archived(root, out)
    assert verify(out).ok
    return out


# --- the forgeries -------------------------------------------------------------------------------


def edit(name: str, old: str, new: str) -> Callable[[Path], None]:
    """Change a text of the source in one place."""

    def forge(bag: Path) -> None:
        path = bag / CONTENT / name
        text = path.read_text()
        assert text.count(old) == 1, name
        path.write_text(text.replace(old, new))

    return forge


def put(name: str, data: bytes) -> Callable[[Path], None]:
    """Write a file of the bag."""

    def forge(bag: Path) -> None:
        (bag / name).parent.mkdir(parents=True, exist_ok=True)
        (bag / name).write_bytes(data)

    return forge


def take(name: str) -> Callable[[Path], None]:
    """Take a file or folder out of the bag."""

    def forge(bag: Path) -> None:
        path = bag / name
        shutil.rmtree(path) if path.is_dir() else path.unlink()

    return forge


def swap(bag: Path) -> None:
    """Let two pictures change places."""
    one, other = bag / PHOTO, bag / PHOTO.replace("IMG_1", "IMG_2")
    first, second = one.read_bytes(), other.read_bytes()
    one.write_bytes(second)
    other.write_bytes(first)


def rewrite_chain(bag: Path, *, until: int | None = None, earlier: timedelta = timedelta(0)) -> None:
    """Write the whole chain anew from what lies in the bag: numbers, digests, head and bag-info.txt agree."""
    build = bag / "data/source"
    head = bag / SEALS
    was = parse_chain(head.read_bytes())
    head.unlink()
    (bag / CONTENT / "seals/head.json").unlink()
    done, problems = seal(
        build, opened(build), now=datetime(2026, 2, 11, tzinfo=UTC) - earlier, ask=lambda changes: "x"
    )
    assert done is not None, problems
    shutil.rmtree(build / ".journal")
    if until is not None:
        raw = b"".join(render_line(line) for line in done.chain.seals[:until])
        head.write_bytes(raw)
        last = parse_chain(raw)
        (build / HEAD).write_bytes(render_head(until, last.head))
    now = parse_chain(head.read_bytes())
    info = (bag / "bag-info.txt").read_text()
    told = f"line {len(was.seals)} {was.head}"
    assert told in info
    (bag / "bag-info.txt").write_text(info.replace(told, f"line {len(now.seals)} {now.head}"))


def with_new_chain(change: Callable[[Path], None], **how: timedelta | int) -> Callable[[Path], None]:
    """A change of the source, and the chain written anew over it."""

    def forge(bag: Path) -> None:
        change(bag)
        rewrite_chain(bag, **how)  # type: ignore[arg-type]

    return forge


def edit_line(bag: Path) -> None:
    """Another time in a line of the chain."""
    path = bag / SEALS
    path.write_bytes(path.read_bytes().replace(b"2026-02-11T00", b"2026-02-10T00", 1))


def cut_line(bag: Path) -> None:
    """A line out of the middle."""
    lines = (bag / SEALS).read_bytes().splitlines(keepends=True)
    (bag / SEALS).write_bytes(b"".join([*lines[:3], *lines[4:]]))


def cut_end(bag: Path) -> None:
    """The last ten lines, and what tells of them."""
    chain = parse_chain((bag / SEALS).read_bytes())
    kept = chain.seals[:-10]
    (bag / SEALS).write_bytes(b"".join(map(render_line, kept)))
    (bag / "data/source" / HEAD).unlink()
    info = (bag / "bag-info.txt").read_text()
    told = info.replace(f"line {len(chain.seals)} {chain.head}", f"line {len(kept)} {kept[-1].sha256}")
    (bag / "bag-info.txt").write_text(told)


def says_nothing_private(bag: Path) -> None:
    """One line that once switched every check off, and another text behind it."""
    info = bag / "bag-info.txt"
    info.write_text(info.read_text().replace("Journal-Contents: everything", "Journal-Contents: nothing private"))
    put(TEXT, b"another")(bag)


def says_no_head(bag: Path) -> None:
    """bag-info.txt without the head of the chain, whose last line is gone."""
    lines = (bag / "bag-info.txt").read_text().splitlines(keepends=True)
    (bag / "bag-info.txt").write_text("".join(line for line in lines if not line.startswith("Journal-Seals-Head")))


def turn(name: str, first: int, last: int) -> Callable[[Path], None]:
    """Let two lines of a text change places; numbers from 0."""

    def forge(bag: Path) -> None:
        path = bag / CONTENT / name
        lines = path.read_text().splitlines(keepends=True)
        lines[first], lines[last] = lines[last], lines[first]
        path.write_text("".join(lines))

    return forge


def keep_wrong_text(bag: Path) -> None:
    """Another text where the one that was sealed is kept."""
    copy = min((bag / CONTENT / "seals/texts").iterdir())
    copy.write_text("Never said.")


PAGES = "whether site, binder, tables, README.txt and verify.pyz are what the source gives"
CHAIN_ANEW = "vouches for a line that is not in the chain"
"""What the stamp of an honest service says of a chain that was written anew."""

FORGERIES: list[tuple[str, Callable[[Path], None], str]] = [
    ("another picture", put(PHOTO, b"another"), "sealed-photo"),
    ("a picture taken out", take(PHOTO), "sealed-photo"),
    ("two pictures in each other's place", swap, "sealed-photo"),
    ("a picture put into a sealed entry", put(f"{CONTENT}/entries/{ENTRY}/IMG_9.jpg", b"new"), "IMG_9.jpg"),
    ("a text", edit(f"entries/{ENTRY}/index.md", "Worked on it.", "Worked on it alone."), "sealed-text"),
    ("the day of an entry", edit(f"entries/{ENTRY}/index.md", "date: 2026-02-07", "date: 2026-01-07"), "sealed-text"),
    ("an entry taken out", take(f"{CONTENT}/entries/{ENTRY}"), "sealed-text"),
    ("an entry put in between", put(f"{CONTENT}/entries/2026-02-06-x/index.md", entry("date: 2026-02-06").encode()),
     "content/entries/2026-02-06-x/index.md"),
    ("what an inspection came to", edit(f"inspections/{LOOK}/index.md", "passed", "not passed"), "sealed-text"),
    ("an inspection taken out", take(f"{CONTENT}/inspections/{LOOK}"), "sealed-text"),
    ("what a leak test came to", edit("measurements/2026-02-10-leak/index.md", "Held", "Fell"), "sealed-text"),
    ("a helper made a builder", edit("build.yml", "role: helper", "role: builder"), "sealed-part"),
    ("a person taken out", edit("build.yml", "  bo: {name: Bo Lindqvist, role: builder}\n", ""), "sealed-part"),
    ("another beginning", edit("build.yml", "begun: 2026-01-10", "begun: 2025-01-10"), "sealed-part"),
    ("another registration", edit("build.yml", "ZZ-TRN", "ZZ-TRX"), "sealed-part"),
    ("a person more", edit("build.yml", "places:", "  zed: {name: Z, role: inspector}\nplaces:"),
     "build.yml people zed"),
    ("a step that closes no longer", edit("steps.csv", "Close the wing,7-9,yes", "Close the wing,7-9,"), "sealed-part"),
    ("a step taken out", edit("steps.csv", "left-wing,7.2,Fit the ribs,7-2,\n", ""), "sealed-part"),
    ("a step put in", edit("steps.csv", "flaps,5.2", "flaps,5.15,Look,5-2,\nflaps,5.2"), "steps.csv 5.15"),
    ("a wider call-out", edit("callouts.csv", "20 to 25", "20 to 35"), "sealed-part"),
    ("the shares of a task", edit("tasks.csv", "2,0,8,0", "0,0,0,10"), "sealed-part"),
    ("the check of a wrench", edit("tools.csv", "2025-11-20", "2026-01-20"), "sealed-part"),
    ("the last day of a primer", edit("materials.csv", "2026-12-31", "2028-12-31"), "sealed-part"),
    ("the kind of a record", edit("records/records.csv", ",invoice,", ",certificate,"), "sealed-part"),
    ("another record", put(f"{CONTENT}/records/invoice.txt", b"Rivets, 40 kg\n"), "sealed-part"),
    ("a bulletin that is done", edit("bulletins.csv", ",open,", ",done,"), "sealed-part"),
    ("a line of the chain", edit_line, "seal-chain"),
    ("a line less", cut_line, "seal-chain"),
    ("the end of the chain", cut_end, "whether lines were cut from the end of the chain"),
    ("a kept text", keep_wrong_text, "sealed-text"),
    ("a chain written anew", with_new_chain(put(PHOTO, b"another")), CHAIN_ANEW),
    ("a chain two years older", with_new_chain(lambda bag: None, earlier=timedelta(days=730)), "times"),
    ("a shorter chain", with_new_chain(put(TEXT, entry("title: New").encode()), until=4), CHAIN_ANEW),
    ("another binder", put("data/record.pdf", b"%PDF-1.7 all is well"), PAGES),
    ("another front page", put("data/index.html", b"<title>All is well</title>"), PAGES),
    ("another table", put("data/tables/hours.csv", b"date,minutes\r\n"), PAGES),
    ("another README", put("README.txt", b"Nothing needs to be checked."), "whether this is the archive"),
    ("another small verifier", put("verify.pyz", b"print('Whole')"), "whether this is the archive"),
    ("no stamp", take(f"{CONTENT}/seals/may.tsr"), "when the lines were written: no time-stamp is kept"),
    ("nothing private, so nothing to check", says_nothing_private, "structure bag-info.txt"),
    ("no head in bag-info.txt", says_no_head, "seal-chain"),
    ("steps in another order", turn("steps.csv", 1, 4), "sealed-part"),
    ("people in another order", turn("build.yml", 5, 6), "sealed-part"),
    ("a heading beside data/", put("certificate.txt", b"airworthy"), "structure certificate.txt"),
    ("a paper among the seals", put(f"{CONTENT}/seals/statement.md", b"all is well"), "seals/statement.md"),
    ("what is shown", edit("build.yml", "places:", "show: [registration]\nplaces:"), "build.yml show"),
    ("a picture under a new watermark", edit("build.yml", "places:", "photos: {watermark: x}\nplaces:"),
     "build.yml photos"),
    ("other look", put("data/source/mkdocs.yml", b"site_name: Other\nplugins: [journal]\n"), "mkdocs.yml"),
]  # fmt: skip


def everything(report: Report) -> str:
    """Damage and what was not checked, as it is told."""
    damage = [f"{one.kind.value} {one.path} {one.message}" for one in report.damage]
    return "\n".join([*damage, *report.unchecked])


@pytest.fixture
def bag(sound: Path, tmp_path: Path) -> Path:
    """A copy of the sound bag, to be forged."""
    return Path(shutil.copytree(sound, tmp_path / "out"))


@pytest.mark.parametrize(
    ("forge", "found"),
    [
        pytest.param(forge, found, id=name, marks=[pytest.mark.slow] * bool(number % 3))
        for number, (name, forge, found) in enumerate(FORGERIES)
    ],
)
def test_every_forgery_is_found_or_what_it_changed_is_named(
    sound: Path, bag: Path, forge: Callable[[Path], None], found: str
) -> None:
    """By verify alone; and whoever wrote the fingerprint down finds each."""
    before = everything(verify(bag))
    forge(bag)
    agree(bag)
    assert bagit_accepts(bag)
    report = verify(bag)
    assert found in everything(report)
    if found not in (PAGES, "whether this is the archive", "mkdocs.yml"):
        assert found not in before
    expected = verify(bag, known=Known(fingerprint=verify(sound).fingerprint))
    assert "fingerprint" in {one.kind.value for one in expected.damage}
    assert "it is the archive of the fingerprint you gave." not in everything(expected).lower()


def test_the_digest_of_a_line_tells_a_chain_written_anew(sound: Path, bag: Path) -> None:
    """Any line that was printed on some day does, also where no stamp is kept."""
    chain = parse_chain((sound / SEALS).read_bytes())
    for number in (1, 4, len(chain.seals)):
        report = verify(sound, known=Known(head=chain.seals[number - 1].sha256))
        assert report.ok
        (note,) = [note for note in report.notes if note.startswith("The digest you gave")]
        assert f"that of line {number}: all lines up to it are as they were then." in note
        assert (f" {len(chain.seals) - number} lines came later." in note) == (number < len(chain.seals))
    take(f"{CONTENT}/seals/may.tsr")(bag)
    with_new_chain(put(TEXT, entry("title: New").encode()))(bag)
    agree(bag)
    assert verify(bag).ok
    assert [told for told in verify(bag).unchecked if told.startswith("whether the whole chain was written anew")]
    (damage,) = verify(bag, known=Known(head=chain.head)).damage
    assert (damage.kind.value, damage.path) == ("head", SEALS)
    assert not [told for told in verify(sound, known=Known(head=chain.head)).unchecked if "--head" in told]


def test_a_service_of_ones_own_proves_nothing(sound: Path, bag: Path, authority: Authority, tmp_path: Path) -> None:
    """A certificate that lies in the bag is the builder's and named so; the service's own does not vouch for it."""
    (tmp_path / "own").mkdir()
    own = make_authority(tmp_path / "own")
    with_new_chain(put(PHOTO, b"another"))(bag)
    head = parse_chain((bag / SEALS).read_bytes()).head
    (bag / CONTENT / "seals/may.tsr").write_bytes(own.answer(render_request(head)))
    (bag / CONTENT / "seals/trusted.pem").write_bytes(own.root)
    agree(bag)
    report = verify(bag)
    (note,) = [note for note in report.notes if note.startswith("may.tsr")]
    assert "it leads up to trusted.pem, the builder's own (SHA-256 " in note
    assert [told for told in report.unchecked if "--root" in told]
    known = Known(roots={"service.pem": authority.root})
    (note,) = [note for note in verify(bag, known=known).notes if note.startswith("may.tsr")]
    assert "none of yours did" in note
    (note,) = [note for note in verify(sound, known=known).notes if note.startswith("may.tsr")]
    assert "vouched for by your certificate service.pem" in note


def test_times_that_contradict_each_other_are_damage(bag: Path, authority: Authority) -> None:
    """A stamp older than the line it vouches for; a clock that went back; work sealed before it was done."""
    build = bag / "data/source"
    (bag / SEALS).unlink()
    (build / HEAD).unlink()
    later = datetime.now(UTC) + timedelta(days=400)
    done, _ = seal(build, opened(build), now=later, ask=lambda changes: "x")
    assert done is not None
    (build / "content/seals/may.tsr").write_bytes(authority.answer(render_request(done.chain.head)))
    (build / f"content/entries/{ENTRY}/index.md").write_text(entry("title: Ribs"))
    seal(build, opened(build), now=datetime(2026, 2, 1, tzinfo=UTC), ask=lambda changes: "x")
    told = [one.message for one in verify(bag).damage if one.kind.value == "times"]
    assert [message for message in told if "vouches on" in message and "after that" in message]
    assert [message for message in told if "a clock was set back" in message]
    assert [message for message in told if "seals work of 2026-02-07 and says that it was written before it" in message]


@pytest.mark.slow
def test_any_byte_of_what_is_sealed_tells(sound: Path, bag: Path) -> None:
    """Law: a flipped bit of a file in the source, with the lists written anew, is damage exactly where the file is
    sealed whole, or a row or setting in it reads otherwise; what no seal fixes is named.
    """
    rng = random.Random(20261128)
    source = bag / "data/source"
    before = everything(verify(bag))
    part_files = {part.file for part in cut_parts(lambda uri: read_source(source, uri))}
    # Bits of a stamp that its signature does not cover may be anything: test_timestamps.py flips those.
    files = [path for path in sorted(source.rglob("*")) if path.is_file() and path.suffix != ".tsr"]
    for _ in range(400):
        path = rng.choice([path for path in files if path.stat().st_size])
        uri, data = path.relative_to(source).as_posix(), path.read_bytes()
        position = rng.randrange(len(data))
        cut_before = {part.words for part in cut_parts(lambda uri: read_source(source, uri))}
        path.write_bytes(data[:position] + bytes([data[position] ^ 1 << rng.randrange(8)]) + data[position + 1 :])
        cut_after = {part.words for part in cut_parts(lambda uri: read_source(source, uri))}
        agree(bag)
        report = verify(bag)
        if uri in part_files:
            assert report.ok == (cut_before <= cut_after), (uri, position)
        elif uri == "mkdocs.yml" or "draft" in uri:
            assert report.ok
            assert uri in before
        else:
            assert not report.ok, (uri, position)
        path.write_bytes(data)


def read_source(source: Path, uri: str) -> bytes | None:
    """The bytes of a file of the source, None where there is none."""
    return (source / uri).read_bytes() if (source / uri).is_file() else None


# --- the small verifier --------------------------------------------------------------------------


def run_small(bag: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run the verifier that lies in the bag, with nothing but Python itself."""
    command = [sys.executable, "-I", "-S", str(bag / "verify.pyz"), *arguments]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, cwd="/")


def test_the_small_verifier_says_what_verify_says(bag: Path) -> None:
    """Without any package; it tells first whom not to trust, and of stamps that it does not check them."""
    whole = run_small(bag)
    assert (whole.returncode, whole.stderr.strip()) == (0, WHOM_TO_TRUST)
    report = replace(verify(bag), path=str(bag))
    ours = [line for line in report.tell() if "may.tsr" not in line and "--root" not in line]
    assert [line for line in whole.stdout.splitlines() if "time-stamps in content/seals" not in line] == ours
    assert "the time-stamps in content/seals (journal verify does, or openssl ts -verify)" in whole.stdout
    edit("steps.csv", "Close the wing,7-9,yes", "Close the wing,7-9,")(bag)
    agree(bag)
    forged = run_small(bag, "--json", str(bag))
    assert forged.returncode == 1
    told = json.loads(forged.stdout)
    assert [one["kind"] for one in told["findings"]] == ["sealed-part"]
    assert told["findings"] == verify(bag).as_json()["findings"]
    expected = run_small(bag, "--expect", "AB" * 32, "--head", "cd " * 32)
    assert {"[fingerprint]", "[head]"} <= set(expected.stdout.split())
    assert run_small(bag, "--expect", "abc").returncode == 2
    assert run_small(bag, str(bag / "nowhere")).returncode == 3


# --- made again ----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A real archive, with site, binder and tables."""
    root = tmp_path_factory.mktemp("real")
    write_small_build(root)
    (root / "mkdocs.yml").write_text(SETTINGS)
    journal = open_journal(root, TODAY)
    view = open_view(journal, Audience.ARCHIVE)
    made_at = datetime(2026, 6, 30, 12, tzinfo=UTC)
    seal(root, view, now=made_at, ask=lambda changes: "")
    parts = make_parts(journal, made_at, view=view)
    out = tmp_path_factory.mktemp("made") / "out"
    done, problems = write_archive(root, view, ArchivePlace(path=out), parts, made_at=made_at)
    assert done is not None, problems
    return out


@pytest.mark.slow
def test_what_is_made_again_from_the_source_is_the_same_or_damage(real: Path, tmp_path: Path) -> None:
    """Pages, binder, tables, README and small verifier are held against what the source gives, byte for byte."""
    report = compare_again(verify(real), begin=quietly)
    assert report.ok, [(one.path, one.message) for one in report.damage]
    assert [note for note in report.notes if note.startswith("Made anew from the source: all ")]
    assert not [told for told in report.unchecked if told.startswith(PAGES)]
    bag = Path(shutil.copytree(real, tmp_path / "out"))
    forged = ["data/record.pdf", "data/index.html", "data/tables/findings.csv", "README.txt", "verify.pyz"]
    for name in forged:
        (bag / name).write_bytes(b"%PDF-" if name.endswith(".pdf") else b"all is well")
    (bag / "data/extra.html").write_text("more")
    (bag / "data/seals/index.html").unlink(missing_ok=True)
    agree(bag)
    found = {one.path for one in compare_again(verify(bag)).damage if one.kind.value == "not-from-source"}
    assert found >= {*forged, "data/extra.html"}


@pytest.mark.slow
def test_nothing_of_a_bag_is_ever_run(real: Path, tmp_path: Path) -> None:
    """A bag that tries: hooks, a plugin, a template, tags of YAML that call Python. What differs is told, not run."""
    bag = Path(shutil.copytree(real, tmp_path / "out"))
    trap = tmp_path / "sprung"
    call = f"__import__('pathlib').Path({str(trap)!r}).touch()"
    source = bag / "data/source"
    (source / "hook.py").write_text(f"{call}\n")
    (source / "own").mkdir()
    (source / "own/main.html").write_text("{% set x = ''.__class__ %}{{ 1/0 }}")
    (source / "mkdocs.yml").write_text(
        "site_name: Tarn\ndocs_dir: content\nhooks: [hook.py]\n"
        "theme: {name: material, font: false, custom_dir: own}\nplugins: [search, journal, hook]\n"
        f"extra:\n  a: !!python/object/apply:os.system ['touch {trap}']\n"
        f'  b: !!python/object/apply:builtins.eval ["{call}"]\n  c: !ENV HOME\n'
    )
    (bag / "data/index.html").write_text("made with templates of one's own")
    agree(bag)
    report = compare_again(verify(bag))
    assert not trap.exists()
    assert not [one for one in report.damage if one.kind.value == "not-from-source"]
    assert [told for told in report.unchecked if "the builder's own templates or settings took part" in told]


def test_of_the_settings_of_a_bag_only_words_are_read() -> None:
    """Name, address, notice and language; what else is asked for is noticed."""
    plain = b"site_name: Tarn\nsite_url: https://tarn.example/\ntheme: {name: material, language: de}\n"
    settings, more = read_settings(plain + b"plugins:\n  - search\n  - journal: {notice: Rendered}\n")
    assert (settings["site_name"], settings["site_url"]) == ("Tarn", "https://tarn.example/")
    assert settings["theme"] == {"name": "material", "font": False, "language": "de"}
    assert settings["plugins"] == ["search", {"journal": {"notice": "Rendered"}}]
    assert not more
    for asked in (
        b"hooks: [a.py]\n",
        b"plugins: [journal, other]\n",
        b"theme: {custom_dir: x}\n",
        b"INHERIT: ../x.yml\n",
    ):
        assert read_settings(b"site_name: Tarn\ntheme: {name: material}\n" + asked)[1], asked
    for broken in (b"\xff\xfe", b"a: [", b"- a\n- b\n", b"", b"plugins: 3\ntheme: [x]\n"):
        assert read_settings(broken)[0]["plugins"]


@pytest.mark.slow
def test_settings_nested_without_end_are_none() -> None:
    """They are ours then."""
    assert read_settings(b"a: " + b"[" * 5000)[0]["plugins"]
