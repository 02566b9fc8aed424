"""The bench killed without a word, at fifty moments of an evening: nothing half, nothing lost, nothing twice."""

from __future__ import annotations

import json
import random
import re
import threading
import time
from datetime import date
from http.client import HTTPException
from pathlib import Path
from typing import Any

import pytest
from bench_server import Server
from cameras import photo_bytes
from making import MakeBuild

from journal.base.digests import sha256_of
from journal.base.problems import has_errors
from journal.ledger.journal import open_journal

MOMENTS = 50
PIECE = 64 * 1024


class Sender:
    """What the page does, without a browser: it sends until it is told that a thing is written."""

    def __init__(self, server: Server) -> None:
        self.server = server
        self.cookie = server.let_in()

    def ask(self, path: str, body: bytes | None = None) -> tuple[int, Any]:
        """Asked until somebody answers."""
        while True:
            try:
                status, told, _ = self.server.ask(path, body, self.cookie)
                if status < 500:
                    return status, json.loads(told)
            except (OSError, HTTPException, ValueError):
                time.sleep(0.05)

    def send(self, thing: dict[str, Any], data: bytes = b"") -> None:
        """One thing, its picture first."""
        while True:
            come = self.ask(f"/arriving/{thing['key']}")[1]["size"] if data else 0
            while come < len(data):
                piece = data[come : come + PIECE]
                come = self.ask(f"/arriving/{thing['key']}?offset={come}", piece)[1]["size"]
            status, told = self.ask("/sent", json.dumps({"at": 1, "now": 1, "assembly": "flaps", **thing}).encode())
            if status == 200:
                return
            assert told["asks"] == "upload", told


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1])
def test_killed_at_fifty_moments(make_build: MakeBuild, seed: int) -> None:
    """Upload, note, tick, figure, clock, close: whatever was under way is there once when it is sent again."""
    server = Server(make_build({"steps.csv": steps()}))
    server.start()
    sender, drawn, over = Sender(server), random.Random(seed), threading.Event()
    entries, killed = server.root / "content/entries", 0

    def kill() -> None:
        nonlocal killed
        while killed < MOMENTS and not over.is_set():
            time.sleep(drawn.uniform(0.01, 0.25))
            server.kill()
            killed += 1
            server.start()

    killer = threading.Thread(target=kill)
    killer.start()
    pictures: dict[str, bytes] = {}
    number = 0
    try:
        while killed < MOMENTS or number < 60:
            number += 1
            key = f"{number:024x}"
            kind = ("note", "step", "torque", "picture", "clock")[number % 5]
            if kind == "picture":
                pictures[key] = photo_bytes() + drawn.randbytes(300_000)
                sender.send(
                    {"key": key, "kind": kind, "size": len(pictures[key]), "text": f"Shot {number}."}, pictures[key]
                )
            elif kind == "clock":
                sender.send({"key": key, "kind": "start" if number % 2 else "stop", "people": ["ada"]})
            else:
                row = {"bolt": "AN4-10A", "value": f"{number} in-lb"} if kind == "torque" else {}
                mark = {"mark": "steps"} if kind == "step" else {}
                sender.send(
                    {"key": key, "kind": kind, "step": f"5.{number}", "text": f"Note {number}.", "row": row, **mark}
                )
        sender.send({"key": "f" * 24, "kind": "stop", "people": ["ada"]})
        sender.send({"key": "e" * 24, "kind": "close", "items": [item.name for item in entries.iterdir()]})
    finally:
        over.set()
        killer.join()
        server.kill()
    assert killed >= MOMENTS
    check_once(server.root, number, pictures)


def steps() -> str:
    """So many that each can be done once."""
    return "assembly,step,title\n" + "".join(f"flaps,5.{number},Step {number}\n" for number in range(1, 2000))


def check_once(root: Path, last: int, pictures: dict[str, bytes]) -> None:
    """Everything that was sent stands in the one entry, once."""
    journal = open_journal(root, date.today())
    assert not has_errors(journal.problems)
    (entry,) = journal.build.entries
    assert not journal.build.drafts
    numbers = range(1, last + 1)
    assert re.findall(r"Note (\d+)\.", entry.body) == [str(one) for one in numbers if one % 5 == 0]
    assert [*entry.steps] == [f"5.{one}" for one in numbers if one % 5 == 1]
    assert [line.value.text for line in entry.torque] == [f"{one} in-lb" for one in numbers if one % 5 == 2]
    folder = (root / entry.src_uri).parent
    come = sorted(sha256_of(path.read_bytes()) for path in folder.glob("*.jpg"))
    assert come == sorted(map(sha256_of, pictures.values()))
    assert sorted(photo.caption for photo in entry.photos) == sorted(f"Shot {one}." for one in numbers if one % 5 == 3)
    assert "clock" not in (root / entry.src_uri).read_text("utf-8")
    assert not list(root.glob(".journal/bench/arriving/*.part"))
