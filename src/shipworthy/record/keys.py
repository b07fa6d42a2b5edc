"""Keys, the trust list, and signatures.

Ed25519 (RFC 8032) in JWS form (RFC 7515) under the algorithm name of RFC 9864; keys are JWKs (RFC 7517,
RFC 8037), known by their RFC 7638 thumbprint. A signature's header names a key and never brings one: the
key itself comes from the trust list alone.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import os
import re
import stat
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal, Self

import msgspec

from shipworthy.model.base import Record, Trouble, decode, encode_pretty, read_record
from shipworthy.record.files import disk_trouble, rename_no_replace, sync_folder, write_part, write_whole

if TYPE_CHECKING:
    from joserfc.jwk import OKPKey

ALGORITHM = "Ed25519"
LONGEST_JWS_BYTES = 1 << 20
_LONGEST_KEY_BYTES = 65536

_Thumbprint = Annotated[str, msgspec.Meta(pattern=r"^[A-Za-z0-9_-]{43}$")]
_Name = Annotated[str, msgspec.Meta(min_length=1, max_length=120, pattern=r"^[^\x00-\x1f\x7f]+$")]
_COMPACT = re.compile(r"([A-Za-z0-9_-]+)\.([A-Za-z0-9_-]*)\.([A-Za-z0-9_-]+)")


class SealWrong(Trouble):
    """The signature is not one, or not of these bytes."""


class SignerUnknown(Trouble):
    """The signature names a key that the trust list does not hold. kid: its thumbprint."""

    def __init__(self, kid: str) -> None:
        self.kid = kid
        super().__init__(
            f"signed with a key that the trust list does not hold: {kid}",
            "",
            "Get the shop's public key by a way you trust, and add it to the trust list.",
        )


class PublicKey(Record):
    """The half that others may have, as a JWK with the name of whose it is. kid: its thumbprint."""

    kty: Literal["OKP"] = "OKP"
    crv: Literal["Ed25519"] = "Ed25519"
    x: _Thumbprint
    kid: _Thumbprint
    name: _Name

    def __post_init__(self) -> None:
        if self.kid != thumbprint(self.x):
            raise ValueError("the kid is not the thumbprint of this key")


class _PrivateKeyFile(Record):
    kty: Literal["OKP"] = "OKP"
    crv: Literal["Ed25519"] = "Ed25519"
    x: _Thumbprint
    d: _Thumbprint
    kid: _Thumbprint
    name: _Name


class _Header(Record):
    """The only header we write or take: no key, no link to one, no extension."""

    alg: Literal["Ed25519"] = "Ed25519"
    kid: _Thumbprint


@dataclass(frozen=True)
class SigningKey:
    """A private key in memory; never shown."""

    public: PublicKey
    private: OKPKey = field(repr=False)


class TrustList(Record):
    """The public keys that signatures are held against: a JSON file that a person may read."""

    schema: Literal[1] = 1
    keys: tuple[PublicKey, ...] = ()

    def __post_init__(self) -> None:
        if len({key.kid for key in self.keys}) != len(self.keys):
            raise ValueError("one key stands in the list twice")

    @classmethod
    def load(cls, path: Path) -> Self:
        """Return the list stored in a file; Trouble if there is none or it is not one."""
        return read_record(path, cls)

    def save(self, path: Path) -> None:
        """Store the list, whole, in place of what was there."""
        write_whole(path, encode_pretty(self))

    def add(self, key: PublicKey) -> TrustList:
        """Return a list that holds this key too; Trouble if it is there under another name."""
        known = self.find(key.kid)
        if known is None:
            return TrustList(keys=(*self.keys, key))
        if known.name != key.name:
            raise Trouble(
                f"this key is in the trust list already, as {known.name!r}",
                "",
                "Keep one name for one key: remove the old entry from the file first.",
            )
        return self

    def find(self, kid: str) -> PublicKey | None:
        """Return the key of that thumbprint; None if the list does not hold it."""
        return next((key for key in self.keys if key.kid == kid), None)


def thumbprint(x: str) -> str:
    """Return the RFC 7638 thumbprint (SHA-256) of an Ed25519 public key, given its `x`."""
    members = f'{{"crv":"Ed25519","kty":"OKP","x":"{x}"}}'
    return _base64url(hashlib.sha256(members.encode("ascii")).digest())


def make_key(path: Path, *, name: str) -> PublicKey:
    """Make a new key and store its private half at `path`, for its owner alone (mode 0600).

    The file appears whole, and never in place of another. name: whose key it is, as signatures will be
    shown. Trouble if there is a file already, or the disk refuses.
    """
    from joserfc.jwk import OKPKey

    made = OKPKey.generate_key("Ed25519").as_dict(private=True)
    x, d = str(made["x"]), str(made["d"])
    public = msgspec.convert(_named(x, name), PublicKey)
    stored = _PrivateKeyFile(x=x, d=d, kid=public.kid, name=public.name)
    with disk_trouble(path):
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        part = write_part(path.parent, encode_pretty(stored), mode=0o600)
        try:
            rename_no_replace(part, path)
        except FileExistsError as error:
            raise Trouble(
                "there is a file already, and a key is never replaced", path, "Name another file."
            ) from error
        finally:
            with suppress(FileNotFoundError):
                part.unlink()
        sync_folder(path.parent)
    return public


def _named(x: str, name: str) -> dict[str, str]:
    if not 1 <= len(name.strip()) <= 120 or not name.isprintable():
        raise Trouble("a key needs a name of 1 to 120 characters", "", "Name whose key it is.")
    return {"x": x, "kid": thumbprint(x), "name": name}


def load_key(path: Path) -> SigningKey:
    """Return the private key stored at `path`.

    Trouble if there is none, if others than its owner may read it, or if it is damaged.
    """
    from joserfc.errors import JoseError
    from joserfc.jwk import OKPKey

    stored = decode(_read_private(path), _PrivateKeyFile, path)
    try:
        private = OKPKey.import_key({"kty": "OKP", "crv": stored.crv, "d": stored.d, "x": stored.x})
        public = PublicKey(x=_public_x(private), kid=stored.kid, name=stored.name)
    except (JoseError, ValueError) as error:
        raise _damaged(path) from error
    if public.x != stored.x:
        raise _damaged(path)
    return SigningKey(public, private)


def _public_x(private: OKPKey) -> str:
    """Return the public half worked out from the private one; the library only repeats the file's."""
    if private.private_key is None:
        raise ValueError("no private half")
    return _base64url(private.private_key.public_key().public_bytes_raw())


def _damaged(path: Path) -> Trouble:
    return Trouble("the key file is damaged", path, "Restore it from a good copy.")


def _read_private(path: Path) -> bytes:
    try:
        descriptor = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    except FileNotFoundError as error:
        raise Trouble("there is no key", path, "Make one first, or name the file it is in.") from error
    except OSError as error:
        raise Trouble(
            f"the key cannot be read: {error.strerror}", path, "Check the file's owner and mode."
        ) from error
    try:
        status = os.fstat(descriptor)
        if not stat.S_ISREG(status.st_mode):
            raise Trouble("that is not a key file", path, "Name the file that holds the key.")
        if stat.S_IMODE(status.st_mode) & 0o077:
            raise Trouble("others than its owner may read the key", path, "Run `chmod 600` on it.")
        return os.read(descriptor, _LONGEST_KEY_BYTES)
    finally:
        os.close(descriptor)


def export_public(key: SigningKey | PublicKey) -> bytes:
    """Return the public half as JWK JSON, to give away."""
    return encode_pretty(key.public if isinstance(key, SigningKey) else key)


def read_public(path: Path) -> PublicKey:
    """Return the public key that `export_public` wrote into a file; Trouble if it is not one."""
    return read_record(path, PublicKey)


def sign_attached(payload: bytes, key: SigningKey) -> str:
    """Return the compact JWS that carries the payload (RFC 7515, section 7.1)."""
    header, _, signature = sign_detached(payload, key).split(".")
    return f"{header}.{_base64url(payload)}.{signature}"


def sign_detached(payload: bytes, key: SigningKey) -> str:
    """Return a compact JWS over the payload, without it (RFC 7515, appendix F)."""
    from joserfc import jws

    header = {"alg": ALGORITHM, "kid": key.public.kid}
    return jws.detach_content(jws.serialize_compact(header, payload, key.private, algorithms=[ALGORITHM]))


def verify_detached(payload: bytes, signature: str, trust: TrustList) -> str:
    """Return the name of the signer of exactly these bytes.

    Raises SealWrong for anything else than a good signature in our one form, SignerUnknown if the trust
    list does not hold the key it names; both are Trouble.
    """
    header_text, attached, _ = split_compact(signature)
    if attached:
        raise _wrong("it carries a payload of its own")
    key = trust.find(signer_kid(header_text))
    if key is None:
        raise SignerUnknown(signer_kid(header_text))
    if not _holds(payload, signature, key):
        raise _wrong("it does not fit these bytes")
    return key.name


def verify_attached(signature: str, trust: TrustList) -> tuple[bytes, str]:
    """Return the payload that a compact JWS carries, and the name of its signer; raises as above."""
    payload, detached = taken_apart(signature)
    return payload, verify_detached(payload, detached, trust)


def taken_apart(signature: str) -> tuple[bytes, str]:
    """Return the payload that a compact JWS carries, whoever signed it, and the JWS without it."""
    header, payload, signed = split_compact(signature)
    return _from_base64url(payload), f"{header}..{signed}"


def signer_kid(header_text: str) -> str:
    """Return the thumbprint of the key that a JWS header names; SealWrong for any header but ours."""
    try:
        return decode(_from_base64url(header_text), _Header, "").kid
    except SealWrong:
        raise
    except Trouble as error:
        raise _wrong("its header is not one that we take") from error


def split_compact(signature: str) -> tuple[str, str, str]:
    """Return header, payload and signature of a compact JWS, still in base64url; SealWrong if it is none."""
    match = _COMPACT.fullmatch(signature)
    if match is None or len(signature) > LONGEST_JWS_BYTES:
        raise _wrong("it is not a compact JWS")
    return match[1], match[2], match[3]


def _holds(payload: bytes, signature: str, key: PublicKey) -> bool:
    from joserfc import jws
    from joserfc.errors import JoseError
    from joserfc.jwk import OKPKey

    public = OKPKey.import_key({"kty": key.kty, "crv": key.crv, "x": key.x})
    try:
        jws.deserialize_compact(signature, public, algorithms=[ALGORITHM], payload=payload)
    except (JoseError, ValueError):
        return False
    return True


def _wrong(why: str) -> SealWrong:
    return SealWrong(f"the signature is wrong: {why}", "", "Ask the shop for a good copy.")


def _base64url(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode("ascii")


def _from_base64url(text: str) -> bytes:
    """Return the bytes; SealWrong unless this is the one spelling of them (RFC 7515, section 2)."""
    try:
        data = base64.b64decode(text + "=" * (-len(text) % 4), b"-_", validate=True)
    except (binascii.Error, ValueError) as error:
        raise _wrong("it is not base64url") from error
    if _base64url(data) != text:
        raise _wrong("it is not base64url in its one spelling")
    return data
