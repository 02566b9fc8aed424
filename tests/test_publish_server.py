"""`journal publish --sftp`: pages are whole at every moment, nothing of others is touched, nobody's secret is kept."""

from __future__ import annotations

import json
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, suppress
from hashlib import sha256
from pathlib import Path

import asyncssh
import pytest
from click.testing import CliRunner, Result
from making import MakeBuild, entry
from servers import Disk, OldDisk, Running, library_server, make_key, openssh, wire

import journal.commands.publishing.server as module
from journal.commands.main import main
from journal.commands.publishing.server import ServerTarget, _seen, same_server
from journal.commands.publishing.targets import LIST, NotSentError
from journal.making.last_kept import Changes

pytestmark = pytest.mark.filterwarnings("ignore:.*bcrypt.kdf")

MKDOCS = "site_name: Tarn\ndocs_dir: content\ntheme: {name: material, font: false}\nplugins: [search, journal]\n"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The library's server, for all that needs no other."""
    with library_server(tmp_path_factory.mktemp("server")) as running:
        yield running


@pytest.fixture
def place(server: Running, request: pytest.FixtureRequest) -> Path:
    """A folder of the server that is not there yet, for this test alone."""
    return server.place / "htdocs" / sha256(request.node.name.encode()).hexdigest()[:12]


def target(server: Running, place: Path, port: int | None = None) -> ServerTarget:
    """That folder as a target."""
    address = server.address(place.relative_to(server.place).as_posix())
    return ServerTarget(address, port or server.port, server.host_key, str(server.key))


def write_site(site: Path, pages: dict[str, int]) -> dict[str, str]:
    """A site of pages, each of a version and with a picture of that version that it names; path -> SHA-256."""
    shutil.rmtree(site, ignore_errors=True)
    for name, version in pages.items():
        picture = f"pictures/{name}-{version}.jpg"
        for path, data in ((f"entries/{name}/index.html", f"{picture} " * 300), (picture, f"{version}" * 20_000)):
            (site / path).parent.mkdir(parents=True, exist_ok=True)
            (site / path).write_text(data)
    (site / "index.html").write_text(" ".join(f"pictures/{name}-{version}.jpg" for name, version in pages.items()))
    return digests_of(site)


def digests_of(place: Path) -> dict[str, str]:
    """Path -> SHA-256 of every file but our list."""
    files = (path for path in sorted(place.rglob("*")) if path.is_file() and path.name != LIST)
    return {path.relative_to(place).as_posix(): sha256(path.read_bytes()).hexdigest() for path in files}


def send(server: Running, place: Path, site: Path, digests: dict[str, str], port: int | None = None) -> Changes:
    """Plan and do."""
    with closing(target(server, place, port)) as one:
        changes = one.plan(site, digests)
        if not one.settled:
            one.send()
        return changes


def all_whole(place: Path) -> bool:
    """Whether every page that stands there is whole, and all pictures that it shows stand there whole."""
    for page in place.rglob("*.html"):
        words = page.read_text().split()
        repeated = 300 if page.parent != place else 1
        if not words and page.parent != place:
            return False
        if len(words) % repeated or (repeated > 1 and len({*words}) != 1):
            return False
        for picture in {*words}:
            version = re.search(r"-(\d+)\.jpg", picture)
            if not version or not (place / picture).is_file() or (place / picture).read_text() != version[1] * 20_000:
                return False
    return True


def test_whatever_is_sent_stands_there_and_nothing_else_is_touched(
    server: Running, place: Path, tmp_path: Path
) -> None:
    """Law, over a row of sites at random: the folder holds the site and what others put there; the second time nothing
    is sent.
    """
    chance, site = random.Random(7), tmp_path / "site"
    (place / "entries/mine").mkdir(parents=True)
    (place / "entries/mine/notes.html").write_text("mine")
    (place / "hidden.txt").write_text("mine")
    mine = digests_of(place)
    for _ in range(4):
        digests = write_site(site, {f"e{n}": chance.randrange(3) for n in range(6) if chance.random() < 0.7})
        send(server, place, site, digests)
        assert digests_of(place) == {**mine, **digests}
        assert send(server, place, site, digests) == Changes(same=tuple(sorted(digests)))
    folders = {path.relative_to(place).as_posix() for path in place.rglob("*") if path.is_dir()}
    wanted = {above.as_posix() for name in (*mine, *digests) for above in Path(name).parents}
    assert folders == wanted - {"."}


def test_only_what_changed_is_sent_and_what_somebody_changed_comes_right(
    server: Running, place: Path, tmp_path: Path
) -> None:
    """A page that was edited there is replaced, one that is no longer ours to have is left; without the list the bytes
    tell what is the same.
    """
    site = tmp_path / "site"
    send(server, place, site, write_site(site, {"a": 1, "b": 1, "c": 1}))
    (place / "entries/a/index.html").write_text("edited")
    (place / "entries/b/index.html").write_text("edited")
    digests = write_site(site, {"a": 1, "c": 2})
    changes = send(server, place, site, digests)
    assert changes.changed == ("entries/a/index.html", "entries/c/index.html", "index.html")
    assert (changes.gone, changes.kept) == (("pictures/b-1.jpg", "pictures/c-1.jpg"), ("entries/b/index.html",))
    (place / LIST).unlink()
    assert send(server, place, site, digests) == Changes(same=tuple(sorted(digests)))
    (place / "index.html").write_text("not ours")
    (place / LIST).unlink()
    with pytest.raises(NotSentError, match="not published from here") as stopped:
        send(server, place, site, digests)
    assert stopped.value.names == ("index.html",)


def test_what_was_taken_back_goes_also_where_the_list_was_lost(server: Running, place: Path, tmp_path: Path) -> None:
    """What is the same is known from then on as ours."""
    site = tmp_path / "site"
    digests = write_site(site, {"a": 1, "b": 1})
    send(server, place, site, digests)
    (place / LIST).unlink()
    send(server, place, site, {**digests, **write_site(site, {"a": 1, "b": 1})})
    digests = write_site(site, {"a": 2, "b": 1})
    send(server, place, site, digests)
    digests = write_site(site, {"a": 2})
    send(server, place, site, digests)
    assert digests_of(place) == digests


@pytest.mark.parametrize("link", ["entries", "entries/a", "pictures"])
def test_a_link_there_is_never_followed(server: Running, place: Path, tmp_path: Path, link: str) -> None:
    """Wherever it leads, before and after the first sending; it is named, and nothing is written."""
    site, away = tmp_path / "site", server.place / "away" / place.name
    away.mkdir(parents=True)
    digests = write_site(site, {"a": 1})
    for sent_before in (False, True):
        if sent_before:
            (place / link).unlink()
            send(server, place, site, digests)
            shutil.rmtree(place / link)
        (place / link).parent.mkdir(parents=True, exist_ok=True)
        (place / link).symlink_to(away)
        before = digests_of(place)
        with pytest.raises(NotSentError, match=f"^{link} in .* is a link"):
            send(server, place, site, digests)
        assert (digests_of(place), [*away.iterdir()]) == (before, [])


def test_a_half_sent_file_is_no_way_out(server: Running, place: Path, tmp_path: Path) -> None:
    """A link by the name under which a page is written first, and one in the place of a page: neither is followed."""
    site, away = tmp_path / "site", tmp_path / "away.html"
    send(server, place, site, write_site(site, {"a": 1}))
    away.write_text("mine")
    (place / ".index.html.part").symlink_to(away)
    (place / "entries/a/index.html").unlink()
    (place / "entries/a/index.html").symlink_to(away)
    digests = write_site(site, {"a": 1, "b": 1})
    send(server, place, site, digests)
    assert (away.read_text(), digests_of(place)) == ("mine", digests)
    assert not any(path.is_symlink() for path in place.rglob("*"))


def test_a_server_that_cannot_rename_over_a_file(tmp_path: Path) -> None:
    """Old ones: a page is never half there."""
    site = tmp_path / "site"
    with library_server(tmp_path, disk=OldDisk) as old:
        for version in (1, 2):
            digests = write_site(site, {"a": version})
            send(old, old.place / "htdocs/tarn", site, digests)
            assert digests_of(old.place / "htdocs/tarn") == digests


def break_and_complete(server: Running, place: Path, tmp_path: Path, moments: int) -> None:
    """Cut the wire at that many moments; pages are whole each time, and the next run completes it."""
    site, old, new = tmp_path / "site", {"a": 1, "b": 1, "gone": 1}, {"a": 2, "b": 1, "c": 1}
    send(server, place, site, write_site(site, old))
    with wire(server.port) as (port, went):
        send(server, place, site, write_site(site, new), port)
        whole = went()
    broken = 0
    for moment in range(moments):
        send(server, place, site, write_site(site, old))
        digests = write_site(site, new)
        with wire(server.port, cut_after=whole * moment // moments) as (port, _):
            with suppress(NotSentError):
                send(server, place, site, digests, port)
                broken -= 1
            broken += 1
        time.sleep(0.02)
        assert all_whole(place), moment
        send(server, place, site, digests)
        assert digests_of(place) == digests, moment
    assert broken > moments * 0.8


@pytest.mark.slow
def test_a_break_leaves_every_page_whole(server: Running, place: Path, tmp_path: Path) -> None:
    """At a few moments, with the library's server."""
    break_and_complete(server, place, tmp_path, 5)


@pytest.mark.parametrize(
    ("way", "said", "unreachable"),
    [
        ("folder", "there is no folder /nowhere on 127.0.0.1; look at the path behind the colon", False),
        ("file", "/htdocs/file on 127.0.0.1 is a file; name a folder", False),
        ("user", "127.0.0.1 does not let nobody in with the key", True),
        ("key", "127.0.0.1 does not let maren in with the key", True),
        ("no key", "the key /nowhere/key cannot be read: No such file or directory", False),
        ("no such key", "cannot be used: ", False),
        ("locked key", "cannot be opened: its passphrase can only be asked for on a terminal", False),
        ("port", "127.0.0.1 does not answer on port 1; is that the right one?", True),
        ("name", "there is no server by the name tarn.invalid, or the network is down", True),
        ("host key", "the host key of 127.0.0.1 is not the one that is known", False),
        ("new server", "nobody can be asked here whether that is the right server", False),
        ("address", "--sftp takes USER@HOST:PATH", False),
        ("secret", "--sftp takes USER@HOST:PATH", False),
        ("pipe", "--sftp takes USER@HOST:PATH", False),
    ],
)
def test_what_is_wrong_with_a_server(server: Running, tmp_path: Path, way: str, said: str, unreachable: bool) -> None:
    """One sentence each, and no secret in it."""
    make_key(tmp_path / "other")
    if way == "locked key":
        make_key(tmp_path / "locked", "tarn")
    (tmp_path / "text").write_text("no key")
    (server.place / "htdocs/file").write_text("x")
    addresses = {
        "folder": "maren@127.0.0.1:nowhere/tarn",
        "file": "maren@127.0.0.1:htdocs/file",
        "user": "nobody@127.0.0.1:htdocs/tarn",
        "name": "maren@tarn.invalid:htdocs/tarn",
        "address": "htdocs/tarn",
        "secret": "maren:hush@127.0.0.1:htdocs/tarn",
        "pipe": "maren@127.0.0.1:",
    }
    keys = {"key": "other", "no key": "/nowhere/key", "no such key": "text", "locked key": "locked"}
    host_key = {"host key": "ssh-ed25519 SHA256:abc", "new server": ""}.get(way, server.host_key)
    key = str(tmp_path / keys[way]) if way in keys else str(server.key)
    port = 1 if way == "port" else server.port

    def plan() -> None:
        with closing(ServerTarget(addresses.get(way, server.address()), port, host_key, key)) as one:
            one.plan(tmp_path, {"a": "1"})

    with pytest.raises(NotSentError) as stopped:
        plan()
    assert str(stopped.value).startswith(said) or said in str(stopped.value)
    assert (stopped.value.unreachable, "hush" in str(stopped.value)) == (unreachable, False)


class Full(Disk):
    """A disk with no room, told as servers tell it."""

    def write(self, file_obj: object, offset: int, data: bytes) -> int:
        """Refused."""
        raise asyncssh.SFTPFailure("Failure\x1b[31m\nof\x07 the disk")


class Closed(Disk):
    """A folder that may be read alone."""

    def mkdir(self, path: bytes, attrs: asyncssh.SFTPAttrs) -> None:
        """Refused."""
        raise asyncssh.SFTPPermissionDenied("Permission denied")


class Short(Disk):
    """A disk that says that all is well and keeps only a part."""

    def write(self, file_obj: object, offset: int, data: bytes) -> int:
        """Half of it."""
        super().write(file_obj, offset, data[: len(data) // 2])
        return len(data)


@pytest.mark.parametrize(
    ("disk", "said"),
    [
        (Full, "said: Failure\n  of the disk (a full disk, or a quota used up, is told like that as well)"),
        (Closed, "was asked to make the folder /htdocs/tarn and said: Permission denied"),
        (Short, "kept only a part of .journal-published.json; is its disk full?"),
    ],
)
def test_a_disk_that_takes_nothing(tmp_path: Path, disk: type[Disk], said: str) -> None:
    """In the server's own words, whole."""
    with library_server(tmp_path, disk=disk) as running:
        with pytest.raises(NotSentError) as stopped:
            send(running, running.place / "htdocs/tarn", tmp_path / "site", write_site(tmp_path / "site", {"a": 1}))
        assert (said in str(stopped.value), stopped.value.unreachable) == (True, True), stopped.value


@pytest.mark.parametrize("after", [0, 3000, 60_000])
def test_a_server_that_hangs_is_left(
    server: Running, place: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, after: int
) -> None:
    """Before the first word, while logging in, and in the middle."""
    monkeypatch.setattr(module, "WAIT_S", 0.5)
    begun, site = time.monotonic(), tmp_path / "site"
    with wire(server.port, stall_after=after) as (port, _), pytest.raises(NotSentError, match="did not answer for"):
        send(server, place, site, write_site(site, {f"e{n}": 1 for n in range(4)}), port)
    assert time.monotonic() - begun < 6


# -- the command -----------------------------------------------------------------------------------


@pytest.fixture
def root(make_build: MakeBuild) -> Path:
    """A small build, and a home with nothing in it."""
    made = make_build({"entries/2026-02-07-ribs/index.md": entry("title: Ribs", "Every hole deburred.")})
    (made / "tarn").mkdir()
    (made / "content").rename(made / "tarn/content")
    (made / "tarn/mkdocs.yml").write_text(MKDOCS)
    return made / "tarn"


@pytest.fixture
def ready(root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A site that is there at once, and a home with no keys in it."""
    import journal.commands.publish as sending

    (tmp_path / "home").mkdir()
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.delenv("SSH_AUTH_SOCK", raising=False)

    def build(*arguments: object, **options: object) -> Path:
        site = root / ".journal/publish/site"
        site.mkdir(parents=True, exist_ok=True)
        (site / "index.html").write_text("<p>Ada drilled.</p>")
        return site

    monkeypatch.setattr(sending, "write_site", build)


def run(root: Path, *arguments: object, answers: str | None = None) -> Result:
    """`journal publish` of the build."""
    return CliRunner().invoke(main, ["publish", "--build", str(root), *map(str, arguments)], input=answers)


def test_who_the_server_is_is_asked_once_and_the_password_is_kept_nowhere(
    root: Path, ready: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Fingerprint, password wrong and right, remembered; the second time the password alone; a new key refuses."""
    monkeypatch.setattr(module, "on_terminal", lambda: True)
    with library_server(tmp_path / "s", password="deburr5-holes") as running:
        words = ["--sftp", running.address(), "--port", running.port]
        no = run(root, *words, answers="n\n")
        assert (no.exit_code, "the server is not the one you mean" in no.output) == (2, True), no.output
        assert running.host_key in no.output
        wrong = run(root, *words, answers="y\na\nb\nc\n")
        assert (wrong.exit_code, wrong.output.count("Password of maren at 127.0.0.1")) == (3, 3)
        first = run(root, *words, answers="y\nwrong\ndeburr5-holes\n")
        assert first.exit_code == 0, first.output
        kept = (root / "content/publishing.yml").read_text()
        assert kept == f'sftp: "{running.address()}"\nport: {running.port}\nhost_key: "{running.host_key}"\n'
        again = run(root, answers="deburr5-holes\n")
        assert "nothing to send" in again.output
        assert "SHA256" not in again.output
        for told in (wrong.output, first.output, again.output):
            assert "deburr5" not in told
        assert not [path for path in root.rglob("*") if path.is_file() and b"deburr5" in path.read_bytes()]
        port = running.port
    with library_server(tmp_path / "s", password="deburr5-holes") as other:
        changed = run(root, "--port", other.port, answers="deburr5-holes\n")
        assert (changed.exit_code, "is not the one that is known" in changed.output) == (2, True)
        assert "Password" not in changed.output
        assert str(port) in (root / "content/publishing.yml").read_text()
        given = run(root, "--port", other.port, "--host-key", other.host_key, answers="deburr5-holes\n")
        assert given.exit_code == 0, given.output
        assert other.host_key in (root / "content/publishing.yml").read_text()


def test_a_key_with_a_passphrase(
    root: Path, ready: None, server: Running, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Given, or the usual one of the home: its passphrase is asked for, and kept nowhere."""
    monkeypatch.setattr(module, "on_terminal", lambda: True)
    usual = tmp_path / "home/.ssh/id_ed25519"
    usual.parent.mkdir()
    asyncssh.read_private_key(server.key).write_private_key(usual, passphrase="deburr5", rounds=10)
    words = ["--sftp", server.address(f"htdocs/{tmp_path.name}"), "--port", server.port, "--host-key", server.host_key]
    wrong = run(root, *words, "--key", usual, answers="a\nb\nc\n")
    assert (wrong.exit_code, "that was not its passphrase" in wrong.output) == (2, True)
    for key in ([], ["--key", usual]):
        result = run(root, *words, *key, answers="a\ndeburr5\n")
        assert result.exit_code == 0, result.output
        assert "deburr5" not in result.output
    assert f'key: "{usual}"' in (root / "content/publishing.yml").read_text()


def test_the_settings_of_the_users_own_ssh_hold(
    server: Running, place: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A name, a port and a key that stand in ~/.ssh/config; and nothing is told of a library's own remarks."""
    config = tmp_path / ".ssh/config"
    config.parent.mkdir()
    config.write_text(f"Host webspace\n  HostName 127.0.0.1\n  Port {server.port}\n  IdentityFile {server.key}\n")
    monkeypatch.setenv("HOME", str(tmp_path))
    address = f"maren@webspace:{place.relative_to(server.place).as_posix()}"
    digests = write_site(tmp_path / "site", {"a": 1})
    with closing(ServerTarget(address, host_key=server.host_key)) as one:
        one.plan(tmp_path / "site", digests)
        one.send()
    assert digests_of(place) == digests


def test_without_the_library_it_is_said_how_to_get_it(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In a sentence, and everything else goes on."""
    monkeypatch.setitem(sys.modules, "asyncssh", None)
    result = run(root, "--sftp", "maren@webspace.example:htdocs")
    assert (result.exit_code, result.output.strip().split("\n")[-1]) == (
        2,
        "journal: to reach a server, install one thing more: pip install 'build-journal[sftp]'",
    )


def test_where_somebody_publishes_is_one_user_of_one_server() -> None:
    """Whatever the folder: then host key, port and key are those that are remembered."""
    one = {"sftp": "maren@webspace.example:htdocs/tarn"}
    assert same_server(one, {"sftp": "maren@webspace.example:elsewhere"})
    assert not same_server(one, {"sftp": "ada@webspace.example:htdocs/tarn"})
    assert not same_server(one, {"sftp": "maren@other.example:htdocs/tarn"})
    assert not same_server(one, {"folder": "/x"})
    assert not same_server({}, {})


# -- against OpenSSH ----------------------------------------------------------------------------------


@pytest.mark.slow
def test_openssh_takes_it_and_a_cut_wire_leaves_every_page_whole(tmp_path: Path) -> None:
    """A server of the kind that most webspace has; the wire cut at forty moments."""
    with openssh() as running:
        break_and_complete(running, running.place / "htdocs/tarn", tmp_path, 40)


KILLED = """
import json, sys
from pathlib import Path
from journal.commands.publishing.server import ServerTarget
address, port, host_key, key, site, digests = sys.argv[1:]
one = ServerTarget(address, int(port), host_key, key)
one.plan(Path(site), json.loads(digests))
print("planned", flush=True)
one.send(lambda done, of: print(done, flush=True))
print("done", flush=True)
"""


@pytest.mark.slow
def test_killed_at_any_moment_every_page_is_whole(tmp_path: Path) -> None:
    """By the system, without a word, at thirty moments between planning and the end."""
    chance, site = random.Random(5), tmp_path / "site"
    old, new = {f"e{n}": 1 for n in range(8)}, {f"e{n}": 2 if n % 2 else 1 for n in range(1, 9)}
    killed = 0
    with openssh() as running:
        place = running.place / "htdocs/tarn"
        for moment in range(30):
            send(running, place, site, write_site(site, old))
            digests = write_site(site, new)
            words = [running.address(), str(running.port), running.host_key, str(running.key), str(site)]
            command = [sys.executable, "-c", KILLED, *words, json.dumps(digests)]
            process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
            assert process.stdout
            assert process.stdout.readline() == "planned\n"
            time.sleep(chance.random() * 0.12)
            process.send_signal(signal.SIGKILL)
            killed += process.wait() == -signal.SIGKILL and "done" not in process.stdout.read()
            time.sleep(0.05)
            assert all_whole(place), moment
            send(running, place, site, digests)
            assert digests_of(place) == digests, moment
    assert killed > 10


@pytest.mark.slow
def test_openssh_tells_what_it_does_not_take(tmp_path: Path) -> None:
    """A folder that may not be written, a file in the way; then all is as before."""
    site = tmp_path / "site"
    digests = write_site(site, {"a": 1})
    with openssh() as running:
        place = running.place / "htdocs/tarn"
        send(running, place, site, digests)
        for shut in (place, place / "entries/a"):
            shut.chmod(0o555)
            changed = write_site(site, {"a": 2})
            with pytest.raises(NotSentError, match="and said: Permission denied") as stopped:
                send(running, place, site, changed)
            assert stopped.value.unreachable
            assert all_whole(place)
            shut.chmod(0o755)
        send(running, place, site, changed)
        assert digests_of(place) == changed
        home = running.place
        (home / "htdocs").chmod(0o555)
        with pytest.raises(NotSentError, match="there is no folder nowhere on 127"):
            send(running, home / "nowhere/tarn", site, changed)
        with pytest.raises(NotSentError, match=r"to make the folder .*/htdocs/new and said: Permission denied"):
            send(running, home / "htdocs/new", site, changed)
        (home / "htdocs").chmod(0o755)


def test_a_file_is_known_again_by_its_size_and_time() -> None:
    """One that somebody changed without making it longer is another; a server may tell neither."""
    told = [asyncssh.SFTPAttrs(size=3, mtime=7), asyncssh.SFTPAttrs(size=3, mtime=8), asyncssh.SFTPAttrs()]
    assert [_seen(one) for one in told] == [[3, 7], [3, 8], [0, 0]]
