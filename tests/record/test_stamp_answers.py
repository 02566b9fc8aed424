"""Answers of time-stamping services, each with one thing that is otherwise, made here without a service.

Standards: RFC 3161 (2.3 the certificate, 2.4.2 the answer), RFC 5816 and RFC 2634 (which certificate is meant), RFC
5652, 5.3 and 5.4 (who signed, and what). That openssl agrees on good answers is in test_timestamps.py.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from asn1crypto import cms, core, tsp
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, ed448, ed25519, padding, rsa
from cryptography.x509.oid import ExtendedKeyUsageOID, ExtensionOID, NameOID

from journal.record.chain import Chain, Kind, Seal
from journal.record.timestamps import Answer, Stamp, check_answer, load_certificates, read_stamps, render_request

TIME = datetime(2026, 2, 10, 12, 0, tzinfo=UTC)
DAY = timedelta(days=1)
DIGEST = hashlib.sha256(b"a line").hexdigest()
NONCE = 7
STAMPING = [ExtendedKeyUsageOID.TIME_STAMPING]


@dataclass(frozen=True)
class Holder:
    """A key and its certificate."""

    key: Any
    certificate: x509.Certificate

    @property
    def pem(self) -> bytes:
        """As it lies in a file."""
        return self.certificate.public_bytes(serialization.Encoding.PEM)


def holder(
    name: str,
    issuer: Holder | None = None,
    *,
    key: Any = None,
    ca: bool | None = False,
    purposes: Sequence[x509.ObjectIdentifier] = (),
    critical: bool = True,
    days: tuple[int, int] = (-9, 9),
    other_name: bytes = b"",
) -> Holder:
    """A key and a certificate from `issuer`, or its own, valid for these days around TIME."""
    key = key or ec.generate_private_key(ec.SECP256R1())
    named = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    made = x509.CertificateBuilder(
        subject_name=named,
        issuer_name=issuer.certificate.subject if issuer else named,
        public_key=key.public_key(),
        serial_number=x509.random_serial_number(),
        not_valid_before=TIME + days[0] * DAY,
        not_valid_after=TIME + days[1] * DAY,
    )
    if ca is not None:
        made = made.add_extension(x509.BasicConstraints(ca, None), critical=True)
    if purposes:
        made = made.add_extension(x509.ExtendedKeyUsage(purposes), critical)
    if other_name:
        made = made.add_extension(x509.UnrecognizedExtension(ExtensionOID.SUBJECT_ALTERNATIVE_NAME, other_name), False)
    signing = issuer.key if issuer else key
    plain = isinstance(signing, ed25519.Ed25519PrivateKey | ed448.Ed448PrivateKey)
    return Holder(key, made.sign(signing, None if plain else hashes.SHA256()))


ROOT = holder("root", ca=True)
MIDDLE = holder("middle", ROOT, ca=True)
DESK = holder("desk", ROOT, purposes=STAMPING)
FAR_DESK = holder("far desk", MIDDLE, purposes=STAMPING)
OTHER = holder("other", ca=True)
RSA = rsa.generate_private_key(65537, 2048)


def signature(key: Any, data: bytes, digest: str, *, pss: bool = False) -> tuple[dict[str, object], bytes]:
    """(algorithm, signature)."""
    used = getattr(hashes, digest.upper())()
    if isinstance(key, ed25519.Ed25519PrivateKey | ed448.Ed448PrivateKey):
        return {"algorithm": "ed25519"}, key.sign(data)
    if isinstance(key, rsa.RSAPrivateKey) and pss:
        parameters = {
            "hash_algorithm": {"algorithm": digest},
            "mask_gen_algorithm": {"algorithm": "mgf1", "parameters": {"algorithm": digest}},
            "salt_length": 20,
        }
        return {"algorithm": "rsassa_pss", "parameters": parameters}, key.sign(
            data, padding.PSS(padding.MGF1(used), 20), used
        )
    if isinstance(key, rsa.RSAPrivateKey):
        return {"algorithm": f"{digest}_rsa"}, key.sign(data, padding.PKCS1v15(), used)
    return {"algorithm": f"{digest}_ecdsa"}, key.sign(data, ec.ECDSA(used))


def named_by(desk: Holder, digest: str = "sha256") -> tuple[str, list[object]]:
    """The attribute that names a certificate by its digest, in the newer form, or the older for SHA-1."""
    found = hashlib.new(digest, desk.certificate.public_bytes(serialization.Encoding.DER)).digest()
    if digest == "sha1":
        return "signing_certificate", [{"certs": [{"cert_hash": found}]}]
    return "signing_certificate_v2", [{"certs": [{"hash_algorithm": {"algorithm": digest}, "cert_hash": found}]}]


def answer(
    desk: Holder = DESK,
    *,
    certificates: Sequence[Holder] | None = None,
    by: Any = None,
    digest: str = "sha256",
    attributes: Mapping[str, list[object] | None] | None = None,
    status: str | None = "granted",
    holds: str = "tst_info",
    by_key: bytes | None = None,
    signers: int = 1,
    time: datetime = TIME,
    pss: bool = False,
    other: bytes = b"",
    kind: str = "signed_data",
) -> bytes:
    """What a service sends: an answer about DIGEST, signed by `desk` (or with the key `by`)."""
    imprint = {"hash_algorithm": {"algorithm": "sha256"}, "hashed_message": bytes.fromhex(DIGEST)}
    told = {"version": "v1", "policy": "1.2.3", "message_imprint": imprint, "serial_number": 1, "nonce": NONCE}
    info = tsp.TSTInfo({**told, "gen_time": time}).dump()
    values: dict[str, list[object] | None] = dict([named_by(desk)])
    values |= {"content_type": ["tst_info"], "message_digest": [hashlib.new(digest, info).digest()]}
    values |= attributes or {}
    signed = cms.CMSAttributes([{"type": name, "values": given} for name, given in values.items() if given is not None])
    algorithm, sign = signature(by or desk.key, signed.dump() + other, digest, pss=pss)
    mine = asn1_x509.Certificate.load(desk.certificate.public_bytes(serialization.Encoding.DER))
    sid = cms.IssuerAndSerialNumber({"issuer": mine.issuer, "serial_number": mine.serial_number})
    signer = cms.SignerInfo(
        {
            "version": "v1",
            "sid": cms.SignerIdentifier("issuer_and_serial_number", sid)
            if by_key is None
            else cms.SignerIdentifier("subject_key_identifier", by_key),
            "digest_algorithm": {"algorithm": digest},
            "signed_attrs": signed,
            "signature_algorithm": algorithm,
            "signature": sign,
        }
    )
    given = [desk] if certificates is None else certificates
    loaded = [asn1_x509.Certificate.load(one.certificate.public_bytes(serialization.Encoding.DER)) for one in given]
    data = cms.SignedData(
        {
            "version": "v3",
            "digest_algorithms": [{"algorithm": digest}],
            "encap_content_info": {"content_type": holds, "content": core.ParsableOctetString(info)},
            "certificates": [cms.CertificateChoices("certificate", one) for one in loaded] or None,
            "signer_infos": [signer] * signers,
        }
    )
    content: object = data if kind == "signed_data" else core.OctetString(info)
    token = cms.ContentInfo({"content_type": kind, "content": content})
    if status is None:
        return bytes(token.dump())
    return bytes(tsp.TimeStampResp({"status": {"status": status}, "time_stamp_token": token}).dump())


def key_id(desk: Holder) -> bytes:
    """The digest of its key."""
    return x509.SubjectKeyIdentifier.from_public_key(desk.certificate.public_key()).digest


def desk_of(**how: Any) -> Holder:
    """A desk of the root's that is otherwise."""
    return holder("desk", ROOT, **{"purposes": STAMPING, **how})


def both(*desks: Holder) -> dict[str, list[object]]:
    """The attribute that names several certificates: the first is the one that signs (RFC 2634, 5.4.1)."""
    named = [named_by(desk)[1][0]["certs"][0] for desk in desks]  # type: ignore[index]
    return {"signing_certificate_v2": [{"certs": named}]}


PURPOSE = "its certificate is not one for time-stamping"
VALID = "its certificate was not valid at the time it tells"
UNFIT = "the signature does not fit: it was changed, or signed by somebody else"
LACKS = "lacks the attributes that RFC 3161 signs"
UNSOUND = "is signed over a digest that is no longer sound ({})"
ANOTHER = "names another certificate than the one in it"
UNNAMED = "does not name its certificate in what it signs"
ONCE = "is not signed exactly once, as RFC 3161 has it"
NO_KEY = "uses something that cannot be checked here: a kind of key that is not RSA, ECDSA or Ed25519"
SECOND = {"signing_certificate_v2": None}


@pytest.mark.parametrize(
    ("made", "faults"),
    [
        (answer, []),
        (lambda: answer(status=None), []),
        (lambda: answer(status="granted_with_mods"), []),
        (lambda: answer(digest="sha384"), []),
        (lambda: answer(digest="sha512"), []),
        (lambda: answer(by_key=key_id(DESK)), []),
        (lambda: answer(certificates=[OTHER, DESK]), []),
        (lambda: answer(by_key=key_id(DESK), certificates=[OTHER, DESK]), []),
        (lambda: answer(attributes=SECOND | dict([named_by(DESK, "sha1")])), []),
        (lambda: answer(attributes=dict([named_by(DESK, "sha512")])), []),
        (lambda: answer(attributes=dict([named_by(OTHER, "sha1")])), []),
        (lambda: answer(desk_of(key=RSA)), []),
        (lambda: answer(desk_of(key=RSA), pss=True), []),
        (lambda: answer(desk_of(key=ed25519.Ed25519PrivateKey.generate())), []),
        (lambda: answer(time=TIME + 9 * DAY), []),
        (lambda: answer(time=TIME - 9 * DAY), []),
        (lambda: answer(desk_of(key=ed448.Ed448PrivateKey.generate())), [NO_KEY]),
        (lambda: answer(status="waiting"), ["the service refused: waiting"]),
        (lambda: answer(status="revocation_warning"), ["the service refused: revocation warning"]),
        (lambda: answer(holds="data"), ["holds no time-stamp"]),
        (lambda: answer(kind="data"), ["is not signed"]),
        (lambda: answer(signers=2), [ONCE]),
        (lambda: answer(signers=0), [ONCE]),
        (lambda: answer(digest="sha1"), [UNSOUND.format("sha1")]),
        (lambda: answer(attributes={"message_digest": None}), [LACKS]),
        (lambda: answer(attributes={"content_type": None}), [LACKS]),
        (
            lambda: answer(attributes={"message_digest": [b"x" * 32]}),
            ["the signed digest is not that of what it says: it was changed"],
        ),
        (lambda: answer(attributes={"content_type": ["data"]}), ["the signature is not that of a time-stamp"]),
        (lambda: answer(attributes=dict([named_by(OTHER)])), [ANOTHER]),
        (lambda: answer(attributes=SECOND | dict([named_by(OTHER, "sha1")])), [ANOTHER]),
        (lambda: answer(attributes=both(DESK, OTHER)), []),
        (lambda: answer(attributes=both(OTHER, DESK)), [ANOTHER]),
        (lambda: answer(attributes=SECOND), [UNNAMED]),
        (lambda: answer(by=OTHER.key), [UNFIT]),
        (lambda: answer(other=b"x"), [UNFIT]),
        (lambda: answer(desk_of(key=RSA), other=b"x"), [UNFIT]),
        (lambda: answer(desk_of(key=RSA), other=b"x", pss=True), [UNFIT]),
        (lambda: answer(by=OTHER.key, attributes=SECOND), [UNNAMED, UNFIT]),
        (lambda: answer(desk_of(purposes=())), [PURPOSE]),
        (lambda: answer(desk_of(critical=False)), [PURPOSE]),
        (lambda: answer(desk_of(purposes=[*STAMPING, ExtendedKeyUsageOID.CODE_SIGNING])), [PURPOSE]),
        (lambda: answer(time=TIME + 9 * DAY + timedelta(seconds=1)), [VALID]),
        (lambda: answer(time=TIME - 9 * DAY - timedelta(seconds=1)), [VALID]),
        (lambda: answer(desk_of(purposes=()), time=TIME + 10 * DAY, by=OTHER.key), [UNFIT, PURPOSE, VALID]),
        (lambda: b"", ["is not a time-stamp answer that can be read"]),
    ],
)
def test_what_is_wrong_with_an_answer(made: Callable[[], bytes], faults: list[str]) -> None:
    """Each in its words; a good one is vouched for by the root, a bad one by nobody."""
    told = check_answer(made(), roots={"other.pem": OTHER.pem, "root.pem": ROOT.pem})
    assert list(told.faults) == faults
    assert told.root == ("" if faults else "root.pem")
    if not faults:
        assert (told.imprint, told.signer) == (DIGEST, "CN=desk")
        assert told.unchecked == ("whether that certificate was revoked",)


@pytest.mark.parametrize(
    ("asked", "faults"),
    [
        (render_request(DIGEST, NONCE), ()),
        (render_request(DIGEST, 8), ("does not carry the number (nonce) of the request beside it",)),
        (render_request("ab" * 32, NONCE), ("answers another request than the one beside it",)),
    ],
)
def test_an_answer_is_held_against_its_request(asked: bytes, faults: tuple[str, ...]) -> None:
    """By digest and number; without its certificate nothing else of it is known."""
    told = check_answer(answer(), request=asked, roots={"root.pem": ROOT.pem})
    assert (told.faults, told.imprint, told.time) == (faults, DIGEST, TIME)
    bare = check_answer(answer(certificates=[]), request=asked, roots={"root.pem": ROOT.pem})
    unread = "its signature, because the service's certificate is neither in it nor beside it"
    assert bare == Answer(imprint=DIGEST, time=TIME, faults=faults, unchecked=(unread,))


EARLY, LATE = (holder("root", key=ROOT.key, ca=True, days=days) for days in ((-9, -1), (1, 9)))
JUST = holder("root", key=ROOT.key, ca=True, days=(0, 0))
NO_AUTHORITY, SILENT = (holder("root", key=ROOT.key, ca=ca) for ca in (False, None))
WHO = "who issued the service's certificate"


@pytest.mark.parametrize(
    ("made", "roots", "beside", "root", "issuer"),
    [
        ({}, [ROOT], [], "0", ""),
        ({}, [OTHER, ROOT], [OTHER], "1", ""),
        ({}, [DESK], [], "0", ""),
        ({"certificates": []}, [ROOT], [DESK], "0", ""),
        ({"certificates": []}, [OTHER, DESK], [], "1", ""),
        ({}, [JUST], [], "0", ""),
        ({}, [], [], "", WHO),
        ({}, [OTHER], [], "", f"{WHO}: none of yours did"),
        ({}, [EARLY, LATE, NO_AUTHORITY, SILENT], [], "", f"{WHO}: none of yours did"),
        ({}, [], [OTHER, ROOT], "", f"{WHO}; it leads up to 1, the builder's own (SHA-256 "),
        ({}, [OTHER], [ROOT], "", f"{WHO}: none of yours did; it leads up to 0, the builder's own (SHA-256 "),
        ({"desk": FAR_DESK}, [ROOT], [], "", f"{WHO}: none of yours did"),
        ({"desk": FAR_DESK}, [ROOT], [MIDDLE], "0", ""),
        ({"desk": FAR_DESK, "certificates": [MIDDLE, FAR_DESK, ROOT]}, [ROOT], [], "0", ""),
        ({"desk": FAR_DESK}, [MIDDLE], [], "0", ""),
    ],
)
def test_who_vouches_for_an_answer(
    made: dict[str, Any], roots: list[Holder], beside: list[Holder], root: str, issuer: str
) -> None:
    """A certificate of the reader's own, by a path of authorities valid then; the builder's vouch for none."""
    mine, theirs = ({str(number): one.pem for number, one in enumerate(given)} for given in (roots, beside))
    told = check_answer(answer(**made), roots=mine, beside=theirs)
    assert (told.faults, told.root) == ((), root)
    assert told.unchecked[-1] == "whether that certificate was revoked"
    assert len(told.unchecked) == 1 + bool(issuer)
    assert told.unchecked[0].startswith(issuer)
    assert issuer.endswith("SHA-256 ") or told.unchecked[0] in (issuer, told.unchecked[-1])


def test_a_certificate_with_a_kind_of_name_that_cannot_be_read_is_no_garbage() -> None:
    """A name by EDI (RFC 5280, 4.2.1.6) is one that we cannot check; the answer itself can be read."""
    (fault,) = check_answer(answer(desk_of(other_name=bytes.fromhex("3006a504a1020c00")))).faults
    assert fault.startswith("uses something that cannot be checked here: ")


def test_a_certificate_is_read_in_either_form() -> None:
    """PEM, several of them in a file, or DER."""
    assert load_certificates(ROOT.pem + DESK.pem) == [ROOT.certificate, DESK.certificate]
    assert load_certificates(ROOT.certificate.public_bytes(serialization.Encoding.DER)) == [ROOT.certificate]
    with pytest.raises(ValueError, match=r".+"):
        load_certificates(b"x")


def line(number: int, minutes: int, sha256: str = "") -> Seal:
    """A line, written so long after TIME."""
    moment = TIME + timedelta(minutes=minutes)
    return Seal(kind=Kind.ENTRY, id="a", text="", line=number, sealed_at=moment, sha256=sha256 or f"{number}")


@pytest.mark.parametrize(
    ("minutes", "told"),
    [
        ([0, 10], []),
        ([0, 11, 12], ["2, which says that it was written on 2026-02-10 12:11 UTC, after that"]),
        ([11, 0], ["1, which says that it was written on 2026-02-10 12:11 UTC, after that"]),
        ([11, 12], ["1, which says that it was written on 2026-02-10 12:11 UTC, after that, and 1 more such lines"]),
    ],
)
def test_a_line_cannot_be_younger_than_its_time_stamp(minutes: list[int], told: list[str]) -> None:
    """By more than two clocks may stand apart; lines behind the one that is vouched for may."""
    chain = Chain(seals=tuple(line(number, late) for number, late in enumerate(minutes, start=1)))
    stamp = Stamp(name="a.tsr", answer=Answer(imprint="2", time=TIME), line=2)
    assert [*stamp.contradictions(chain)] == [f"vouches on 2026-02-10 12:00 UTC for line {one}" for one in told]
    for answered in (
        Answer(imprint="2"),
        Answer(imprint="x", time=TIME),
        Answer(imprint="2", time=TIME, faults=("x",)),
    ):
        assert not [*Stamp(name="a.tsr", answer=answered, line=2).contradictions(chain)]
    assert not [*Stamp(name="a.tsr", answer=stamp.answer, line=None).contradictions(chain)]


def test_what_a_time_stamp_says() -> None:
    """Line, time, who signed, whose certificate vouches, and what was not checked."""
    answered = Answer(imprint="2", time=TIME, signer="CN=desk", root="root.pem", unchecked=("this", "that"))
    said = "a.tsr: line 2 and all before it existed at "
    assert Stamp(name="a.tsr", answer=answered, line=2).tell() == (
        f"{said}2026-02-10 12:00:00 UTC, signed by CN=desk, vouched for by your certificate root.pem. "
        "Not checked: this; that."
    )
    assert Stamp(name="a.tsr", answer=Answer(unchecked=("this",)), line=2).tell() == (
        f"{said}an unknown time, signed. Not checked: this."
    )
    lost = "vouches for a line that is not in the chain: the chain was cut or rewritten since"
    assert Stamp(name="a", answer=Answer(), line=None).faults == (lost,)
    assert Stamp(name="a", answer=Answer(faults=("x",)), line=None).faults == ("x",)
    assert Stamp(name="a", answer=Answer(faults=("x",)), line=1).faults == ("x",)


def test_answers_are_found_among_the_files_of_seals() -> None:
    """By name, each with the request of its own name and the certificates beside; hidden files take no part."""
    files = {
        "b.TSR": answer(certificates=[]),
        "a.tsr": answer(),
        "a.tsq": render_request(DIGEST, 8),
        ".c.tsr": answer(),
        "note.txt": b"x",
        "desk.CRT": DESK.pem,
        "authority.cer": ROOT.pem,
        ".x.pem": b"x",
    }
    chain = Chain(seals=(line(1, 0), line(2, 0, DIGEST)))
    first, second = read_stamps(files, files.__getitem__, chain, {"r": ROOT.pem})
    assert [(one.name, one.line, one.answer.root) for one in (first, second)] == [("a.tsr", 2, ""), ("b.TSR", 2, "r")]
    assert first.faults == ("does not carry the number (nonce) of the request beside it",)
    assert second.faults == ()
    (own,) = read_stamps(["b.TSR", "authority.cer", "desk.CRT"], files.__getitem__, Chain())
    assert "it leads up to authority.cer, the builder's own" in own.answer.unchecked[0]
    assert own.line is None
    assert read_stamps(["x.pem"], {}.__getitem__, chain) == ()
