"""The decoding service: whatever a decoder does costs one picture, by name, and is not tried again."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import unruly
from picturing import encoded, quartered

from journal.base.model import PhotoSettings
from journal.media.photos import PhotoStore, PictureJob, kinds, service, store

REASONS = {
    "abort": kinds.CRASHED,
    "segfault": kinds.CRASHED,
    "quit": kinds.CRASHED,
    "fail": kinds.CRASHED,
    "sleep": kinds.TOO_LONG,
    "spin": kinds.TOO_LONG,
    "memory": kinds.NO_MEMORY,
    "killed": kinds.STOPPED,
}
NAMES = [f"{when}-{fault}.jpg" for when in ("in_facts", "in_picture") for fault in REASONS]


@pytest.fixture
def unruly_service(monkeypatch: pytest.MonkeyPatch) -> service.Service:
    """Children whose decoders do what the files say."""
    monkeypatch.setattr(service, "COMMAND", (sys.executable, str(Path(unruly.__file__))))
    monkeypatch.setattr(service, "WAIT_S", 6.0)
    fresh = service.Service()
    monkeypatch.setattr(store, "SERVICE", fresh)
    return fresh


def faulty(when: str, fault: str) -> bytes:
    """A sound picture, and the order for the unruly decoder behind its end."""
    return encoded(quartered(), "JPEG") + f"FAULT {when} {fault}".encode()


def render(root: Path, names: list[str], cache: str = "cache") -> dict[str, str]:
    """Name -> trouble of each picture, read and made."""
    photos = PhotoStore(root, root / cache)
    examined = photos.examine(names)
    jobs = [
        PictureJob(src_uri=name, sha256=one.sha256, caption="", credit="", settings=PhotoSettings())
        for name, one in examined.items()
        if not one.facts.trouble
    ]
    troubles = {job.src_uri: picture.trouble for job, picture in photos.render(jobs).items()}
    return {name: one.facts.trouble or troubles[name] for name, one in examined.items()}


@pytest.mark.slow
def test_every_fault_costs_one_named_picture(
    tmp_path: Path, unruly_service: service.Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sixteen pictures with a fault each among sixteen sound ones; once more, and only what was stopped from outside is
    tried again.
    """
    for number, name in enumerate(NAMES):
        (tmp_path / name).write_bytes(faulty(*name.removesuffix(".jpg").split("-")))
        (tmp_path / f"sound-{number}.jpg").write_bytes(encoded(quartered(96 + number, 64), "JPEG"))
    time.sleep(0.2)  # a file is remembered only some time after it was written
    every = sorted(path.name for path in tmp_path.glob("*.jpg"))
    first = render(tmp_path, every)
    expected = {name: REASONS[name.removesuffix(".jpg").split("-")[1]] for name in NAMES}
    assert first == {name: expected.get(name, "") for name in every}
    asked: list[str] = []
    genuine = unruly_service.ask

    def listening(work: service.Work) -> object:
        asked.append(work.path.name)
        return genuine(work)

    monkeypatch.setattr(unruly_service, "ask", listening)
    assert render(tmp_path, every) == first
    assert sorted(asked) == ["in_facts-killed.jpg", "in_picture-killed.jpg"]


def test_a_crash_costs_one_picture(tmp_path: Path, unruly_service: service.Service) -> None:
    """Its digest is known all the same, and what a decoder prints is no answer."""
    for name, words in (("a.jpg", "in_facts abort"), ("b.jpg", "in_picture fail"), ("c.jpg", "in_picture print")):
        (tmp_path / name).write_bytes(faulty(*words.split()))
    expected = {"a.jpg": kinds.CRASHED, "b.jpg": kinds.CRASHED, "c.jpg": ""}
    assert render(tmp_path, [*expected]) == expected
    assert PhotoStore(tmp_path, tmp_path / "cache").examine(["a.jpg"])["a.jpg"].sha256
    unruly_service.close()


def test_a_child_that_cannot_be_begun_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No picture is blamed for that, so it is tried again."""
    (tmp_path / "a.jpg").write_bytes(encoded(quartered(), "JPEG"))
    monkeypatch.setattr(store, "SERVICE", service.Service())
    with monkeypatch.context() as broken:
        broken.setattr(service, "COMMAND", (sys.executable, "-c", "raise SystemExit(1)"))
        assert render(tmp_path, ["a.jpg"]) == {"a.jpg": kinds.NOT_STARTED}
    assert render(tmp_path, ["a.jpg"]) == {"a.jpg": ""}


def test_a_child_that_was_killed_while_it_waited_is_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is told of it."""
    (tmp_path / "a.jpg").write_bytes(encoded(quartered(), "JPEG"))
    fresh = service.Service()
    monkeypatch.setattr(store, "SERVICE", fresh)
    assert render(tmp_path, ["a.jpg"]) == {"a.jpg": ""}
    (child,) = fresh._idle
    child.process.kill()
    child.process.wait()
    assert render(tmp_path, ["a.jpg"], cache="other") == {"a.jpg": ""}
    fresh.close()


def runs(process: int) -> bool:
    """Whether a process is there, and not only its number, for a parent that asks how it ended."""
    try:
        os.kill(process, 0)
        return ") Z " not in Path(f"/proc/{process}/stat").read_text()
    except OSError:
        return False


@pytest.mark.skipif(not hasattr(os, "fork"), reason="looks for a process by its number")
def test_children_end_with_their_parent(tmp_path: Path) -> None:
    """Also where that is killed and can close nothing."""
    (tmp_path / "a.jpg").write_bytes(encoded(quartered(), "JPEG"))
    program = (
        "import sys, time; from pathlib import Path; from journal.media.photos import PhotoStore\n"
        "from journal.media.photos.service import SERVICE\n"
        "PhotoStore(Path(sys.argv[1]), Path(sys.argv[1], 'cache')).examine(['a.jpg'])\n"
        "print(SERVICE._idle[0].process.pid, flush=True); time.sleep(600)"
    )
    with subprocess.Popen([sys.executable, "-c", program, str(tmp_path)], stdout=subprocess.PIPE, text=True) as parent:
        assert parent.stdout
        child = int(parent.stdout.readline())
        os.kill(child, 0)
        parent.kill()
        parent.wait()
    for _ in range(100):
        if not runs(child):
            return
        time.sleep(0.1)
    raise AssertionError("the child lives on")


def test_a_few_bytes_that_claim_a_huge_picture(tmp_path: Path) -> None:
    """38 bytes of lossless WebP are one colour in 16,383 by 12,000 pixels: well-formed, and 3 GB for a decoder."""
    sides = (16_382 | 11_999 << 14).to_bytes(4, "little")
    chunk = b"\x2f" + sides + b"\x07\x10\x11\x11\x88\x88\xfe\x07\0"
    body = b"WEBPVP8L" + len(chunk).to_bytes(4, "little") + chunk
    (tmp_path / "a.webp").write_bytes(b"RIFF" + len(body).to_bytes(4, "little") + body)
    assert render(tmp_path, ["a.webp"]) == {"a.webp": kinds.HOLLOW}


def test_check_knows_what_could_not_be_made(tmp_path: Path, unruly_service: service.Service) -> None:
    """By its digest, whatever was to be made of it."""
    (tmp_path / "a.jpg").write_bytes(faulty("in_picture", "abort"))
    assert render(tmp_path, ["a.jpg"]) == {"a.jpg": kinds.CRASHED}
    photos = PhotoStore(tmp_path, tmp_path / "cache")
    digest = photos.examine(["a.jpg"])["a.jpg"].sha256
    assert photos.known_troubles([digest, "0" * 64]) == {digest: kinds.CRASHED}
    unruly_service.close()


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="looks for a process by its number")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_stopped_in_the_middle_of_a_picture_all_end_at_once(tmp_path: Path, how: signal.Signals) -> None:
    """The builder waits for no decoder, and none goes on without the program that asked."""
    (tmp_path / "a.jpg").write_bytes(faulty("in_facts", "sleep"))
    program = (
        "import signal, sys, threading, time; from pathlib import Path; from journal.media.photos import PhotoStore\n"
        "from journal.media.photos import service\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "service.COMMAND = (sys.executable, sys.argv[2])\n"
        "tell = lambda: print(*(one.process.pid for one in service.SERVICE._busy), flush=True)\n"
        "threading.Timer(2, tell).start()\n"
        "PhotoStore(Path(sys.argv[1]), Path(sys.argv[1], 'cache')).examine(['a.jpg'])"
    )
    command = [sys.executable, "-c", program, str(tmp_path), unruly.__file__]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as parent:
        assert parent.stdout
        child = int(parent.stdout.readline())
        assert runs(child)
        parent.send_signal(how)
        assert parent.wait(4)
    assert not (tmp_path / "cache/originals.index").exists()
    for _ in range(40):
        if not runs(child):
            return
        time.sleep(0.1)
    raise AssertionError("the child goes on")
