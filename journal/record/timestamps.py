"""Time-stamps of the chain's head by somebody else: RFC 3161 requests, and answers checked offline.

A request carries the SHA-256 of a line of content/seals.jsonl; any time-stamping service answers it
with a signed statement that this digest existed at a given time. Nothing here talks to a network.

ASN.1 is read with asn1crypto, which accepts the BER that services send (a stricter reader of RFC 3161
refused the answers of `openssl ts` with two certificates); signatures are checked with cryptography.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Any

from asn1crypto import cms, core, tsp
from cryptography import x509
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, ed25519, padding, rsa
from cryptography.x509.oid import ExtendedKeyUsageOID

from journal.record.chain import CLOCKS_APART, Chain, line_numbers

_HASHES: Mapping[str, type[hashes.HashAlgorithm]] = {
    "sha256": hashes.SHA256,
    "sha384": hashes.SHA384,
    "sha512": hashes.SHA512,
}
"""Digests taken as sound; SHA-1 is not (NIST SP 800-131A)."""


def render_request(sha256: str, nonce: int | None = None) -> bytes:
    """A time-stamp request (RFC 3161, 2.4.1) in DER for a digest, asking for the service's certificate."""
    request = tsp.TimeStampReq(
        {
            "version": "v1",
            "message_imprint": {
                "hash_algorithm": {"algorithm": "sha256", "parameters": core.Null()},
                "hashed_message": bytes.fromhex(sha256),
            },
            "nonce": secrets.randbits(64) if nonce is None else nonce,
            "cert_req": True,
        }
    )
    return bytes(request.dump())


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a stored answer says and how far it could be checked.

    `imprint` is the SHA-256 it vouches for, `time` when the service says it saw it. `signer` is the
    name in the certificate. `faults` make it worthless; `unchecked` say what remains for a reader
    with the service's own certificates. `root` names the certificate of the reader's that it leads up to, "" where it
    leads up to none.
    """

    imprint: str = ""
    time: datetime | None = None
    signer: str = ""
    root: str = ""
    faults: tuple[str, ...] = ()
    unchecked: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """A stored answer by its file name, and the line of the chain it vouches for (None: no line here)."""

    name: str
    answer: Answer
    line: int | None

    @property
    def faults(self) -> tuple[str, ...]:
        """What makes it worthless for this chain."""
        if self.answer.faults or self.line is not None:
            return self.answer.faults
        return ("vouches for a line that is not in the chain: the chain was cut or rewritten since",)

    def tell(self) -> str:
        """What it proves, and what was not checked; one sentence each."""
        time = self.answer.time.strftime("%Y-%m-%d %H:%M:%S UTC") if self.answer.time else "an unknown time"
        by = f" by {self.answer.signer}" if self.answer.signer else ""
        checked = f"{self.name}: line {self.line} and all before it existed at {time}, signed{by}"
        if self.answer.root:
            checked += f", vouched for by your certificate {self.answer.root}"
        return f"{checked}. Not checked: {'; '.join(self.answer.unchecked)}."

    def contradictions(self, chain: Chain) -> Iterator[str]:
        """Where its time and those in the lines it vouches for cannot both be true."""
        time = self.answer.time
        if self.faults or time is None or self.line is None:
            return
        late = [seal for seal in chain.seals[: self.line] if seal.sealed_at > time + CLOCKS_APART]
        if late:
            told = f"vouches on {time:%Y-%m-%d %H:%M} UTC for line {late[0].line}, which says that it was written on "
            more = f", and {len(late) - 1} more such lines" if len(late) > 1 else ""
            yield f"{told}{late[0].sealed_at:%Y-%m-%d %H:%M} UTC, after that{more}"


ANSWER_ENDING, REQUEST_ENDING, ROOT_ENDINGS = ".tsr", ".tsq", (".pem", ".crt", ".cer")


def read_stamps(
    names: Iterable[str], read: Callable[[str], bytes], chain: Chain, roots: Mapping[str, bytes] = MappingProxyType({})
) -> tuple[Stamp, ...]:
    """Check every answer among the files of content/seals against the chain; `read` gives the bytes behind a name.

    `NAME.tsq` is the request that `NAME.tsr` answers. `roots` are the reader's own certificates (PEM or DER) by name;
    those that lie beside the answers are the builder's, and vouch for nothing. Hidden files take no part.
    """
    shown = sorted(name for name in names if not name.startswith("."))
    answers = [name for name in shown if name.casefold().endswith(ANSWER_ENDING)]
    beside = {name: read(name) for name in shown if answers and name.casefold().endswith(ROOT_ENDINGS)}
    lines, stamps = line_numbers(chain), []
    for name in answers:
        request = name[: -len(ANSWER_ENDING)] + REQUEST_ENDING
        asked = read(request) if request in shown else None
        answer = check_answer(read(name), request=asked, roots=roots, beside=beside)
        stamps.append(Stamp(name=name, answer=answer, line=lines.get(answer.imprint)))
    return tuple(stamps)


def load_certificates(data: bytes) -> list[x509.Certificate]:
    """The certificates in a file, PEM or DER. Raises ValueError where there are none."""
    if b"-----BEGIN" in data:
        return x509.load_pem_x509_certificates(data)
    return [x509.load_der_x509_certificate(data)]


class _Response(core.Sequence):  # type: ignore[misc]
    """RFC 3161, 2.4.2; asn1crypto's own cannot read a refusal, which has no token."""

    _fields = [("status", tsp.PKIStatusInfo), ("time_stamp_token", cms.ContentInfo, {"optional": True})]  # noqa: RUF012


class _FaultError(Exception):
    """Why an answer is worth nothing."""


def check_answer(
    answer: bytes,
    *,
    request: bytes | None = None,
    roots: Mapping[str, bytes] = MappingProxyType({}),
    beside: Mapping[str, bytes] = MappingProxyType({}),
) -> Answer:
    """Check a stored answer (RFC 3161, 2.4.2; the token alone does as well).

    Checked: status, digest, that the signature over them was made with the certificate in the
    answer, that this certificate is for time-stamping (2.3) and was valid then, that `request` asked
    for it, and that one of `roots` issued it, directly or through certificates in the answer or `beside` it.
    """
    try:
        return _check(answer, request, _loaded(roots), _loaded(beside))
    except _FaultError as fault:
        return Answer(faults=(str(fault),))
    except (UnsupportedAlgorithm, x509.UnsupportedGeneralNameType) as trouble:
        return Answer(faults=(f"uses something that cannot be checked here: {trouble}",))
    except Exception:
        # asn1crypto reads lazily and raises whatever the garbage makes of it (ValueError, TypeError,
        # KeyError, AttributeError, OverflowError, RecursionError …): all of it means the same.
        return Answer(faults=("is not a time-stamp answer that can be read",))


_Named = Sequence[tuple[str, x509.Certificate]]


def _loaded(files: Mapping[str, bytes]) -> _Named:
    return [(name, one) for name, data in files.items() for one in load_certificates(data)]


def _check(answer: bytes, request: bytes | None, roots: _Named, beside: _Named) -> Answer:
    signed = _signed_data(answer)
    content = signed["encap_content_info"]
    if content["content_type"].native != "tst_info":
        raise _FaultError("holds no time-stamp")
    info = content["content"].parsed
    if info["message_imprint"]["hash_algorithm"]["algorithm"].native != "sha256":
        raise _FaultError("is not about a SHA-256 digest")
    imprint = info["message_imprint"]["hashed_message"].native.hex()
    time: datetime = info["gen_time"].native.astimezone(UTC)
    faults = [] if request is None else _against_request(info, request)
    told = (one.dump() for one in signed["certificates"] or () if one.name == "certificate")
    embedded = [x509.load_der_x509_certificate(one) for one in told]
    if len(signed["signer_infos"]) != 1:
        raise _FaultError("is not signed exactly once, as RFC 3161 has it")
    signer = signed["signer_infos"][0]
    given, own = [one for _, one in roots], [one for _, one in beside]
    certificate = _signing_certificate(signer, [*embedded, *given, *own])
    if certificate is None:
        unread = "its signature, because the service's certificate is neither in it nor beside it"
        return Answer(imprint=imprint, time=time, faults=tuple(faults), unchecked=(unread,))
    faults += _check_signature(signer, bytes(content["content"]), certificate)
    faults += _check_purpose(certificate, time)
    root = None if faults else _issued_by(certificate, [*embedded, *own], given, time)
    unchecked = []
    if not faults and root is None:
        mine = _issued_by(certificate, [*embedded, *own], own, time)
        issuer = "who issued the service's certificate" + (": none of yours did" if roots else "")
        if mine is not None:
            name = next(name for name, one in beside if one == mine)
            issuer += f"; it leads up to {name}, the builder's own (SHA-256 {mine.fingerprint(hashes.SHA256()).hex()})"
        unchecked.append(issuer)
    return Answer(
        imprint=imprint,
        time=time,
        signer=certificate.subject.rfc4514_string(),
        root=next((name for name, one in roots if one == root), ""),
        faults=tuple(faults),
        unchecked=(*unchecked, "whether that certificate was revoked"),
    )


def _signed_data(answer: bytes) -> Any:
    """The SignedData of a whole response, or of a token alone."""
    try:
        response = _Response.load(answer, strict=True)
        status = response["status"]["status"].native
        token = response["time_stamp_token"]
    except (ValueError, TypeError, KeyError):
        status, token = "granted", cms.ContentInfo.load(answer, strict=True)
    if status not in ("granted", "granted_with_mods"):
        raise _FaultError(f"the service refused: {status.replace('_', ' ')}")
    if token["content_type"].native != "signed_data":
        raise _FaultError("is not signed")
    return token["content"]


def _against_request(info: Any, request: bytes) -> list[str]:
    asked = tsp.TimeStampReq.load(request)
    if asked["message_imprint"]["hashed_message"].native != info["message_imprint"]["hashed_message"].native:
        return ["answers another request than the one beside it"]
    if asked["nonce"].native != info["nonce"].native:
        return ["does not carry the number (nonce) of the request beside it"]
    return []


def _signing_certificate(signer: Any, certificates: Iterable[x509.Certificate]) -> x509.Certificate | None:
    sid = signer["sid"]

    def is_meant(certificate: x509.Certificate) -> bool:
        if sid.name != "issuer_and_serial_number":
            return bool(x509.SubjectKeyIdentifier.from_public_key(certificate.public_key()).digest == sid.native)
        number, issuer = sid.chosen["serial_number"].native, sid.chosen["issuer"].dump()
        return bool(certificate.serial_number == number and certificate.issuer.public_bytes() == issuer)

    return next(filter(is_meant, certificates), None)


def _check_signature(signer: Any, content: bytes, certificate: x509.Certificate) -> list[str]:
    """CMS, RFC 5652, 5.4: the signed attributes hold the content's digest, the signature covers them."""
    name = signer["digest_algorithm"]["algorithm"].native
    if name not in _HASHES:
        return [f"is signed over a digest that is no longer sound ({name})"]
    attributes = {attribute["type"].native: attribute["values"] for attribute in signer["signed_attrs"]}
    if "message_digest" not in attributes or "content_type" not in attributes:
        return ["lacks the attributes that RFC 3161 signs"]
    if attributes["message_digest"][0].native != hashlib.new(name, content).digest():
        return ["the signed digest is not that of what it says: it was changed"]
    if attributes["content_type"][0].native != "tst_info":
        return ["the signature is not that of a time-stamp"]
    faults = _check_certificate_id(attributes, certificate)
    # The attributes are stored under an implicit tag but signed as a plain SET (5.4).
    signed = b"\x31" + signer["signed_attrs"].dump()[1:]
    try:
        _verify(certificate.public_key(), signer, signed, _HASHES[name]())
    except InvalidSignature:
        faults.append("the signature does not fit: it was changed, or signed by somebody else")
    return faults


def _verify(key: Any, signer: Any, signed: bytes, digest: hashes.HashAlgorithm) -> None:
    signature, algorithm = signer["signature"].native, signer["signature_algorithm"]
    if isinstance(key, rsa.RSAPublicKey) and algorithm.signature_algo == "rsassa_pss":
        used = _HASHES[algorithm.hash_algo]()
        key.verify(signature, signed, padding.PSS(padding.MGF1(used), padding.PSS.AUTO), used)
    elif isinstance(key, rsa.RSAPublicKey):
        key.verify(signature, signed, padding.PKCS1v15(), digest)
    elif isinstance(key, ec.EllipticCurvePublicKey):
        key.verify(signature, signed, ec.ECDSA(digest))
    elif isinstance(key, ed25519.Ed25519PublicKey):
        key.verify(signature, signed)
    else:
        raise UnsupportedAlgorithm("a kind of key that is not RSA, ECDSA or Ed25519")


def _check_certificate_id(attributes: Mapping[str, Any], certificate: x509.Certificate) -> list[str]:
    """RFC 5816 (and RFC 2634 for the older form): the signed attributes name the certificate meant."""
    for name in ("signing_certificate_v2", "signing_certificate"):
        if name in attributes:
            named = attributes[name][0]["certs"][0]
            digest = hashes.SHA1()
            if name == "signing_certificate_v2":
                digest = _HASHES[named["hash_algorithm"]["algorithm"].native]()  # type: ignore[assignment]
            if named["cert_hash"].native != certificate.fingerprint(digest):
                return ["names another certificate than the one in it"]
            return []
    return ["does not name its certificate in what it signs"]


def _check_purpose(certificate: x509.Certificate, time: datetime) -> list[str]:
    """RFC 3161, 2.3: a key for time-stamping alone, marked critical; valid at the time it tells."""
    faults = ["its certificate is not one for time-stamping"]
    with suppress(x509.ExtensionNotFound):
        usage = certificate.extensions.get_extension_for_class(x509.ExtendedKeyUsage)
        if usage.critical and list(usage.value) == [ExtendedKeyUsageOID.TIME_STAMPING]:
            faults.clear()
    if not certificate.not_valid_before_utc <= time <= certificate.not_valid_after_utc:
        faults.append("its certificate was not valid at the time it tells")
    return faults


def _issued_by(
    certificate: x509.Certificate,
    between: Sequence[x509.Certificate],
    roots: Sequence[x509.Certificate],
    time: datetime,
) -> x509.Certificate | None:
    """The one of `roots` to which a path of issuers leads from `certificate`, each valid at `time`; None: to none."""
    found = [certificate]
    for current in found:
        issuers = (issuer for issuer in (*roots, *between) if issuer not in found)
        found += [issuer for issuer in issuers if _may_issue(issuer, current, time)]
    return next((one for one in roots if one in found), None)


def _may_issue(issuer: x509.Certificate, issued: x509.Certificate, time: datetime) -> bool:
    try:
        issued.verify_directly_issued_by(issuer)
        authority = issuer.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    except (ValueError, TypeError, InvalidSignature, x509.ExtensionNotFound):
        return False
    return authority and issuer.not_valid_before_utc <= time <= issuer.not_valid_after_utc
