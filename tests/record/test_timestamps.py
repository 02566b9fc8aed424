"""Time-stamps of the chain's head, with a time-stamping authority made by openssl for the test.

Standards: RFC 3161 (protocol), RFC 5816 (certificate identifiers), RFC 5652 (signatures). `openssl ts`
reads our requests, answers them, and agrees on which answers are good.
"""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from making import MakeBuild, entry, read, slow, view_of

from journal.record.chain import SEALS, Chain, Kind, Seal, read_chain
from journal.record.seals import check_seals, seal, stamps_of
from journal.record.timestamps import check_answer, read_stamps, render_request

pytestmark = pytest.mark.skipif(shutil.which("openssl") is None, reason="needs the openssl program")

DIGEST = sha256(b"the last line of the chain").hexdigest()


@dataclass(frozen=True)
class Authority:
    """A time-stamping authority in a folder: `ca.pem` issued `tsa.pem`."""

    folder: Path

    def openssl(self, *arguments: str, check: bool = True) -> subprocess.CompletedProcess[str]:
        """Run openssl in the folder."""
        return subprocess.run(
            ["openssl", *arguments], cwd=self.folder, check=check, capture_output=True, text=True, timeout=60
        )

    def answer(self, request: bytes, *, token: bool = False) -> bytes:
        """What the service sends back."""
        (self.folder / "request.tsq").write_bytes(request)
        extra = ["-token_out"] if token else []
        self.openssl(
            "ts", "-reply", "-config", "tsa.cnf", "-section", "desk", "-queryfile", "request.tsq", "-out", "answer.tsr",
            *extra,
        )  # fmt: skip
        return (self.folder / "answer.tsr").read_bytes()

    @property
    def root(self) -> bytes:
        """The certificate that a builder who trusts the service keeps."""
        return (self.folder / "ca.pem").read_bytes()


def make_authority(folder: Path, *, key: str = "rsa:2048", purpose: str = "critical,timeStamping") -> Authority:
    """A root, and a certificate for time-stamping issued by it; answers carry both."""
    authority = Authority(folder)
    new_key = ["-newkey", key] if key.startswith("rsa") else ["-newkey", "ec", "-pkeyopt", f"ec_paramgen_curve:{key}"]
    authority.openssl(
        "req", "-x509", *new_key, "-nodes", "-keyout", "ca.key", "-out", "ca.pem", "-subj", "/CN=Test root",
        "-days", "3650", "-addext", "basicConstraints=critical,CA:TRUE",
    )  # fmt: skip
    authority.openssl(
        "req", *new_key, "-nodes", "-keyout", "tsa.key", "-out", "tsa.csr", "-subj", "/CN=Test time-stamping"
    )
    (folder / "ext.cnf").write_text(f"extendedKeyUsage={purpose}\nbasicConstraints=CA:FALSE\n")
    authority.openssl(
        "x509", "-req", "-in", "tsa.csr", "-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial", "-days", "3000",
        "-extfile", "ext.cnf", "-out", "tsa.pem",
    )  # fmt: skip
    (folder / "tsa.cnf").write_text(
        "[desk]\nserial=./serial\nsigner_cert=./tsa.pem\ncerts=./ca.pem\nsigner_key=./tsa.key\nsigner_digest=sha256\n"
        "default_policy=1.2.3.4.1\ndigests=sha256,sha512\naccuracy=secs:1\ness_cert_id_alg=sha256\n"
    )
    (folder / "serial").write_text("01\n")
    return authority


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    """One authority with RSA keys for all tests of the module."""
    return make_authority(tmp_path_factory.mktemp("authority"))


@pytest.fixture(scope="module")
def answer(authority: Authority) -> bytes:
    """An answer about DIGEST."""
    return authority.answer(render_request(DIGEST))


def test_openssl_reads_the_request(authority: Authority) -> None:
    """Version 1, SHA-256, the digest, a nonce, and the wish for the certificate (RFC 3161, 2.4.1)."""
    (authority.folder / "read.tsq").write_bytes(render_request(DIGEST, nonce=0x1234567890ABCDEF))
    text = authority.openssl("ts", "-query", "-in", "read.tsq", "-text").stdout
    assert "Version: 1" in text
    assert "Hash Algorithm: sha256" in text
    assert "Nonce: 0x1234567890ABCDEF" in text
    assert "Certificate required: yes" in text
    dumped = "".join(line[11:].split("   ")[0] for line in text.splitlines() if line.startswith("    00"))
    assert dumped.replace("-", "").replace(" ", "").startswith(DIGEST)


@pytest.mark.parametrize("key", ["P-256", *slow("rsa:2048", "P-384")])
def test_a_good_answer_is_good(tmp_path: Path, key: str) -> None:
    """RSA and ECDSA signatures are checked; with the root laid beside it the answer is vouched for."""
    authority = make_authority(tmp_path, key=key)
    request = render_request(DIGEST)
    answer = authority.answer(request)
    told = check_answer(answer, request=request)
    assert told.faults == ()
    assert told.imprint == DIGEST
    assert told.signer == "CN=Test time-stamping"
    assert told.time is not None
    assert abs(datetime.now(UTC) - told.time) < timedelta(minutes=5)
    assert told.root == ""
    assert told.unchecked == ("who issued the service's certificate", "whether that certificate was revoked")
    vouched = check_answer(answer, request=request, roots={"ca.pem": authority.root})
    assert vouched.root == "ca.pem"
    assert vouched.unchecked == ("whether that certificate was revoked",)
    assert (
        authority.openssl("ts", "-verify", "-digest", DIGEST, "-in", "answer.tsr", "-CAfile", "ca.pem").returncode == 0
    )


def test_the_token_alone_does_as_well(authority: Authority) -> None:
    """Some services hand out the token without the response around it."""
    told = check_answer(authority.answer(render_request(DIGEST), token=True), roots={"ca.pem": authority.root})
    assert (told.faults, told.imprint, told.root) == ((), DIGEST, "ca.pem")


def test_a_root_that_did_not_issue_it_does_not_vouch(answer: bytes, tmp_path: Path) -> None:
    """Somebody else's certificate beside the answer leaves it unvouched, and the report says so."""
    told = check_answer(answer, roots={"other.pem": make_authority(tmp_path).root})
    assert told.root == ""
    assert told.unchecked[0] == "who issued the service's certificate: none of yours did"


def test_a_root_that_lies_beside_the_answer_is_the_builders_own(authority: Authority, answer: bytes) -> None:
    """Whoever made the archive can have made that certificate: it vouches for nothing and is named by its digest."""
    told = check_answer(answer, beside={"ours.pem": authority.root})
    assert (told.faults, told.root) == ((), "")
    shown = authority.openssl("x509", "-in", "ca.pem", "-noout", "-fingerprint", "-sha256").stdout
    fingerprint = str(shown, "ascii") if isinstance(shown, bytes) else shown
    fingerprint = fingerprint.partition("=")[2].strip().replace(":", "").lower()
    own = f"who issued the service's certificate; it leads up to ours.pem, the builder's own (SHA-256 {fingerprint})"
    assert told.unchecked[0] == own


def test_the_answer_to_another_request_is_told(authority: Authority, answer: bytes) -> None:
    """An answer beside a request with another nonce or another digest is not the answer to it."""
    assert "nonce" in check_answer(answer, request=render_request(DIGEST, nonce=7)).faults[0]
    assert "another request" in check_answer(answer, request=render_request("00" * 32)).faults[0]


@pytest.mark.slow
def test_a_certificate_not_for_time_stamping_is_refused(tmp_path: Path) -> None:
    """RFC 3161, 2.3: the key must be for time-stamping alone; openssl refuses it too."""
    authority = make_authority(tmp_path)
    (tmp_path / "ext.cnf").write_text("extendedKeyUsage=serverAuth\nbasicConstraints=CA:FALSE\n")
    good = authority.answer(render_request(DIGEST))
    authority.openssl(
        "x509", "-req", "-in", "tsa.csr", "-CA", "ca.pem", "-CAkey", "ca.key", "-days", "3000", "-extfile", "ext.cnf",
        "-out", "web.pem", "-set_serial", "77",
    )  # fmt: skip
    (tmp_path / "tsa.cnf").write_text((tmp_path / "tsa.cnf").read_text().replace("tsa.pem", "web.pem"))
    refused = authority.openssl(
        "ts",
        "-reply",
        "-config",
        "tsa.cnf",
        "-section",
        "desk",
        "-queryfile",
        "request.tsq",
        "-out",
        "x.tsr",
        check=False,
    )
    assert refused.returncode != 0
    from cryptography import x509

    from journal.record.timestamps import _check_purpose

    web = x509.load_pem_x509_certificate((tmp_path / "web.pem").read_bytes())
    assert _check_purpose(web, datetime.now(UTC)) == ["its certificate is not one for time-stamping"]
    assert check_answer(good).faults == ()


def test_an_answer_from_outside_the_certificates_life_is_refused(authority: Authority) -> None:
    """The certificate must have been valid at the time the answer tells."""
    from cryptography import x509

    from journal.record.timestamps import _check_purpose

    certificate = x509.load_pem_x509_certificate((authority.folder / "tsa.pem").read_bytes())
    assert _check_purpose(certificate, datetime(2020, 1, 1, tzinfo=UTC)) == [
        "its certificate was not valid at the time it tells"
    ]


def test_a_refusal_is_told(authority: Authority) -> None:
    """A response whose status is a rejection vouches for nothing."""
    authority.openssl("ts", "-query", "-digest", "ab" * 20, "-sha1", "-out", "weak.tsq")
    refused = authority.answer((authority.folder / "weak.tsq").read_bytes())
    assert check_answer(refused).faults == ("the service refused: rejection",)


def test_other_digests_are_refused(authority: Authority) -> None:
    """An answer about a SHA-512 digest is not about a line of the chain."""
    authority.openssl("ts", "-query", "-digest", "ab" * 64, "-sha512", "-cert", "-out", "other.tsq")
    answer = authority.answer((authority.folder / "other.tsq").read_bytes())
    assert check_answer(answer).faults == ("is not about a SHA-256 digest",)


@pytest.mark.slow
def test_no_flipped_bit_makes_a_different_statement(answer: bytes, authority: Authority) -> None:
    """A flip in what is signed or in the signature is found; elsewhere the statement stays what it was."""
    good = check_answer(answer, roots={"ca.pem": authority.root})
    found = 0
    for position in range(0, len(answer) * 8, 53):
        flipped = bytearray(answer)
        flipped[position // 8] ^= 1 << position % 8
        told = check_answer(bytes(flipped), roots={"ca.pem": authority.root})
        if told.faults or not told.root:
            found += 1
        else:
            assert (told.imprint, told.time, told.signer) == (good.imprint, good.time, good.signer), position
    assert found > len(answer) * 8 / 53 / 2


@given(st.binary(max_size=300))
@settings(deadline=None, max_examples=200)
def test_garbage_is_a_fault_never_an_exception(data: bytes) -> None:
    """Whatever the file holds, there is a sentence about it."""
    told = check_answer(data, request=data, roots={"a.pem": data}, beside={"b.pem": data})
    assert told.faults


def test_check_tells_a_stamp_that_no_longer_fits_the_chain(make_build: MakeBuild, authority: Authority) -> None:
    """A stored answer fits its line however long the chain grows; after a rewrite it fits none, and check says so."""
    root = make_build({"entries/2026-02-07-a/index.md": entry("title: One")})
    now = datetime(2026, 2, 8, tzinfo=UTC)
    done, _ = seal(root, view_of(read(root)[0]), now=now, ask=lambda amendment: None)
    assert done is not None
    (root / SEALS / "first.tsr").write_bytes(authority.answer(render_request(done.chain.head)))
    (root / SEALS / "authority.pem").write_bytes(authority.root)
    (root / "content/entries/2026-02-09-b").mkdir()
    (root / "content/entries/2026-02-09-b/index.md").write_text(entry("date: 2026-02-09"))
    seal(root, view_of(read(root)[0]), now=now, ask=lambda amendment: None)
    (stamp,) = stamps_of(root, read_chain(root))
    lines = len(done.chain.seals)
    assert (stamp.line, stamp.faults, stamp.answer.root) == (lines, (), "")
    assert stamp.tell().startswith(f"first.tsr: line {lines} and all before it existed at ")
    assert check_seals(root, view_of(read(root)[0])) == ()

    for file in (root / "content/seals.jsonl", root / SEALS / "head.json"):
        file.unlink()
    seal(root, view_of(read(root)[0]), now=now + timedelta(days=1), ask=lambda amendment: None)
    (problem,) = check_seals(root, view_of(read(root)[0]))
    assert (problem.word, problem.file) == ("time-stamp", f"{SEALS}/first.tsr")
    assert "not in the chain" in problem.message


def test_files_that_are_no_stamps_are_passed_over(answer: bytes) -> None:
    """head.json and notes beside the stamps are none."""
    day = datetime(2026, 2, 7, tzinfo=UTC)
    sealed = Seal(line=3, kind=Kind.ENTRY, id="a", date=day.date(), text="", files={}, sealed_at=day, sha256=DIGEST)
    files = {"head.json": b"{}", "note.txt": b"x"}
    assert read_stamps(files, files.__getitem__, Chain()) == ()
    files |= {"a.tsr": answer, ".b.tsr": answer}
    (stamp,) = read_stamps(files, files.__getitem__, Chain(seals=(sealed,)))
    assert (stamp.name, stamp.line) == ("a.tsr", 3)
