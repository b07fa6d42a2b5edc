"""Keys and signatures, held against the vectors of the RFCs, and every way to be wrong that we know."""

from __future__ import annotations

import base64
import json
import os
import stat
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from joserfc import jws
from joserfc.jwk import OctKey, OKPKey

from shipworthy.model.base import Trouble
from shipworthy.record.keys import (
    PublicKey,
    SealWrong,
    SignerUnknown,
    SigningKey,
    TrustList,
    export_public,
    load_key,
    make_key,
    read_public,
    sign_attached,
    sign_detached,
    thumbprint,
    verify_attached,
    verify_detached,
)

# RFC 8037, appendix A.1 to A.4 (the key is that of test 1 of RFC 8032, section 7.1).
RFC8037_D = "nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A"
RFC8037_X = "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"
RFC8037_THUMBPRINT = "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k"
RFC8037_COMPACT = (
    "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc."
    "hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg"
)
# RFC 8032, section 7.1: secret, public, message, signature of tests 1 to 3.
RFC8032 = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0"
        "595bbe24655141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eae"
        "b4302aeeb00d291612bb0c00",
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9"
        "716ed28dc027beceea1ec40a",
    ),
]
PAYLOAD = b"the tag manifest's bytes\n"


def b64(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def unb64(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def stored_key(folder: Path, d: str, x: str) -> SigningKey:
    path = folder / "key.jwk"
    path.write_text(
        json.dumps({"kty": "OKP", "crv": "Ed25519", "x": x, "d": d, "kid": thumbprint(x), "name": "RFC"})
    )
    path.chmod(0o600)
    return load_key(path)


@pytest.fixture
def rfc8037_key(tmp_path: Path) -> SigningKey:
    return stored_key(tmp_path, RFC8037_D, RFC8037_X)


def test_the_thumbprint_is_that_of_rfc_8037_and_of_the_library(key: SigningKey) -> None:
    assert thumbprint(RFC8037_X) == RFC8037_THUMBPRINT
    assert key.private.thumbprint() == key.public.kid


@pytest.mark.parametrize(("secret", "public", "message", "signature"), RFC8032)
def test_our_signatures_are_those_of_rfc_8032_over_the_jws_input(
    tmp_path: Path, secret: str, public: str, message: str, signature: str
) -> None:
    raw = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    assert raw.public_key().public_bytes_raw().hex() == public
    assert raw.sign(bytes.fromhex(message)).hex() == signature  # the library under ours keeps the vector
    key = stored_key(tmp_path, b64(bytes.fromhex(secret)), b64(bytes.fromhex(public)))
    header, payload, ours = sign_attached(bytes.fromhex(message), key).split(".")
    assert unb64(payload).hex() == message
    assert unb64(ours) == raw.sign(f"{header}.{payload}".encode())  # RFC 7515, section 5.1: what is signed


def test_the_vectors_typed_in_here_are_those_of_the_reference_data(reference: Path) -> None:
    vectors = json.loads((reference / "check-values" / "evidence-vectors.json").read_text())
    typed = [dict(zip(("secret", "public", "message", "signature"), row, strict=True)) for row in RFC8032]
    assert vectors["ed25519"] == typed
    assert vectors["jws_rfc8037_a4"]["compact"] == RFC8037_COMPACT
    assert vectors["jws_rfc8037_a4"]["thumbprint_rfc7638"] == RFC8037_THUMBPRINT


def test_the_jws_of_rfc_8037_is_good_and_its_deprecated_name_is_refused_by_us(
    rfc8037_key: SigningKey,
) -> None:
    header, payload, signature = RFC8037_COMPACT.split(".")
    raw = Ed25519PrivateKey.from_private_bytes(unb64(RFC8037_D))
    assert b64(raw.sign(f"{header}.{payload}".encode())) == signature
    with pytest.raises(SealWrong, match="header"):
        verify_attached(RFC8037_COMPACT, TrustList().add(rfc8037_key.public))


def test_a_detached_signature_has_no_payload_and_names_alg_and_kid(key: SigningKey) -> None:
    header, payload, _ = sign_detached(PAYLOAD, key).split(".")
    assert payload == ""
    assert json.loads(unb64(header)) == {"alg": "Ed25519", "kid": key.public.kid}


@pytest.mark.parametrize("payload", [b"", b"x", PAYLOAD, bytes(range(256)), b"p" * 300_000])
def test_what_is_signed_verifies_and_names_its_signer(
    key: SigningKey, trust: TrustList, payload: bytes
) -> None:
    assert verify_detached(payload, sign_detached(payload, key), trust) == "Kestrel Desk, bench"
    assert verify_attached(sign_attached(payload, key), trust) == (payload, "Kestrel Desk, bench")


def test_a_flipped_bit_anywhere_in_the_payload_is_seen(key: SigningKey, trust: TrustList) -> None:
    signature = sign_detached(PAYLOAD, key)
    for bit in range(len(PAYLOAD) * 8):
        spoiled = bytearray(PAYLOAD)
        spoiled[bit // 8] ^= 1 << bit % 8
        with pytest.raises(SealWrong):
            verify_detached(bytes(spoiled), signature, trust)


def test_a_flipped_bit_anywhere_in_the_jws_is_seen(key: SigningKey, trust: TrustList) -> None:
    signature = sign_detached(PAYLOAD, key).encode()
    for bit in range(len(signature) * 8):
        spoiled = bytearray(signature)
        spoiled[bit // 8] ^= 1 << bit % 8
        with pytest.raises((SealWrong, SignerUnknown)):
            verify_detached(PAYLOAD, bytes(spoiled).decode("latin-1"), trust)


def test_a_flipped_bit_anywhere_in_the_signatures_own_bytes_is_seen(
    key: SigningKey, trust: TrustList
) -> None:
    header, _, signature = sign_detached(PAYLOAD, key).split(".")
    for bit in range(64 * 8):
        spoiled = bytearray(unb64(signature))
        spoiled[bit // 8] ^= 1 << bit % 8
        with pytest.raises(SealWrong, match="does not fit"):
            verify_detached(PAYLOAD, f"{header}..{b64(bytes(spoiled))}", trust)


def forged(header: dict[str, object], signature: bytes = bytes(64)) -> str:
    return f"{b64(json.dumps(header).encode())}..{b64(signature)}"


def test_alg_none_and_every_other_algorithm_are_refused(key: SigningKey, trust: TrustList) -> None:
    for algorithm in ("none", "None", "NONE", "HS256", "EdDSA", "Ed448", "ES256", "", 1, None):
        with pytest.raises(SealWrong, match="header"):
            verify_detached(PAYLOAD, forged({"alg": algorithm, "kid": key.public.kid}), trust)
    nothing_signed = f"{b64(json.dumps({'alg': 'none', 'kid': key.public.kid}).encode())}.."
    with pytest.raises(SealWrong, match="compact"):
        verify_detached(PAYLOAD, nothing_signed, trust)


def test_a_mac_made_with_the_public_key_is_refused(key: SigningKey, trust: TrustList) -> None:
    confused = OctKey.import_key(unb64(key.public.x) * 2)
    mac = jws.serialize_compact({"alg": "HS256", "kid": key.public.kid}, PAYLOAD, confused)
    with pytest.raises(SealWrong, match="header"):
        verify_detached(PAYLOAD, jws.detach_content(mac), trust)


def test_a_key_that_the_header_brings_along_is_never_used(key: SigningKey, trust: TrustList) -> None:
    stranger = OKPKey.generate_key("Ed25519")
    brought = {k: v for k, v in stranger.as_dict(private=False).items() if k in ("kty", "crv", "x")}
    for more in (
        {"jwk": brought},
        {"jku": "file:///key"},
        {"x5c": ["a"]},
        {"crit": ["exp"], "exp": 1},
        {"b64": False},
    ):
        header = {"alg": "Ed25519", "kid": key.public.kid, **more}
        text = b64(json.dumps(header).encode())
        raw = stranger.private_key
        assert isinstance(raw, Ed25519PrivateKey)
        with pytest.raises(SealWrong, match="header"):
            verify_detached(PAYLOAD, f"{text}..{b64(raw.sign(f'{text}.{b64(PAYLOAD)}'.encode()))}", trust)


def test_a_header_that_names_two_keys_is_refused(key: SigningKey, trust: TrustList) -> None:
    text = b64(f'{{"alg":"Ed25519","kid":"{"A" * 43}","kid":"{key.public.kid}"}}'.encode())
    with pytest.raises(SealWrong, match="header"):
        verify_detached(PAYLOAD, f"{text}..{b64(bytes(64))}", trust)


def test_a_signer_that_nobody_trusts_is_another_thing_than_a_wrong_seal(
    tmp_path: Path, trust: TrustList
) -> None:
    make_key(tmp_path / "other.jwk", name="Somebody else")
    stranger = load_key(tmp_path / "other.jwk")
    with pytest.raises(SignerUnknown) as told:
        verify_detached(PAYLOAD, sign_detached(PAYLOAD, stranger), trust)
    assert told.value.kid == stranger.public.kid


def test_a_stranger_who_takes_a_trusted_kid_is_seen(
    key: SigningKey, trust: TrustList, tmp_path: Path
) -> None:
    make_key(tmp_path / "other.jwk", name="Somebody else")
    stranger = load_key(tmp_path / "other.jwk")
    posing = SigningKey(key.public, stranger.private)
    with pytest.raises(SealWrong, match="does not fit"):
        verify_detached(PAYLOAD, sign_detached(PAYLOAD, posing), trust)


@pytest.mark.parametrize(
    "text", ["", ".", "..", "a.b", "a..b.c", "a..b\n", " a..b", "a..b=", "ä..b", "a..b" * 600_000]
)
def test_what_is_no_jws_is_a_wrong_seal(trust: TrustList, text: str) -> None:
    with pytest.raises(SealWrong):
        verify_detached(PAYLOAD, text, trust)


def test_a_detached_seal_that_carries_a_payload_is_refused(key: SigningKey, trust: TrustList) -> None:
    with pytest.raises(SealWrong, match="payload of its own"):
        verify_detached(PAYLOAD, sign_attached(PAYLOAD, key), trust)


def test_a_new_key_is_for_its_owner_alone_and_never_replaces_one(tmp_path: Path) -> None:
    path = tmp_path / "made" / "bench.jwk"
    old_mask = os.umask(0)
    try:
        public = make_key(path, name="Kestrel Desk, bench")
    finally:
        os.umask(old_mask)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    before = path.read_bytes()
    with pytest.raises(Trouble, match="never replaced"):
        make_key(path, name="Another")
    assert path.read_bytes() == before
    assert [entry.name for entry in path.parent.iterdir()] == ["bench.jwk"]
    assert load_key(path).public == public


def test_the_private_half_is_not_in_what_is_shown_or_given_away(tmp_path: Path) -> None:
    make_key(tmp_path / "k", name="Ines Vaal")
    secret = json.loads((tmp_path / "k").read_text())["d"]
    key = load_key(tmp_path / "k")
    assert secret not in repr(key)
    assert secret not in export_public(key).decode()
    assert json.loads(export_public(key)) == {
        "kty": "OKP", "crv": "Ed25519", "x": key.public.x, "kid": key.public.kid, "name": "Ines Vaal",
    }  # fmt: skip


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o620, 0o644, 0o666])
def test_a_key_that_others_may_read_is_refused(tmp_path: Path, mode: int) -> None:
    make_key(tmp_path / "k", name="Ines Vaal")
    (tmp_path / "k").chmod(mode)
    with pytest.raises(Trouble, match="others than its owner") as told:
        load_key(tmp_path / "k")
    assert "chmod 600" in told.value.mend


def test_a_missing_and_a_damaged_key_are_one_sentence_without_the_secret(tmp_path: Path) -> None:
    with pytest.raises(Trouble, match="there is no key"):
        load_key(tmp_path / "none")
    with pytest.raises(Trouble, match="not a key file"):
        load_key(tmp_path)
    make_key(tmp_path / "k", name="Ines Vaal")
    whole = json.loads((tmp_path / "k").read_text())
    other = OKPKey.generate_key("Ed25519").as_dict(private=True)
    for spoiled in ({**whole, "d": other["d"]}, {**whole, "kid": "A" * 43}, {**whole, "d": "short"},
                    {**whole, "more": 1}, {"d": whole["d"]}):  # fmt: skip
        (tmp_path / "k").write_text(json.dumps(spoiled))
        with pytest.raises(Trouble) as told:
            load_key(tmp_path / "k")
        assert whole["d"] not in str(told.value)


@pytest.mark.parametrize("name", ["", "  ", "two\nlines", "\x1b[31mred", "x" * 121])
def test_a_key_needs_a_name_that_can_be_shown(tmp_path: Path, name: str) -> None:
    with pytest.raises(Trouble, match="needs a name"):
        make_key(tmp_path / "k", name=name)
    assert not (tmp_path / "k").exists()


def test_the_trust_list_is_stored_and_finds_by_thumbprint(tmp_path: Path, key: SigningKey) -> None:
    (tmp_path / "bench.pub.jwk").write_bytes(export_public(key))
    trust = TrustList().add(read_public(tmp_path / "bench.pub.jwk"))
    trust.save(tmp_path / "trust.json")
    again = TrustList.load(tmp_path / "trust.json")
    assert again == trust
    assert again.find(key.public.kid) == key.public
    assert again.find("A" * 43) is None
    assert again.add(key.public) == again


def test_one_key_cannot_stand_in_the_trust_list_under_two_names(key: SigningKey) -> None:
    other_name = PublicKey(x=key.public.x, kid=key.public.kid, name="Somebody else")
    with pytest.raises(Trouble, match="already, as 'Kestrel Desk, bench'"):
        TrustList().add(key.public).add(other_name)


def test_a_trust_list_that_is_damaged_or_holds_a_private_key_is_refused(
    tmp_path: Path, key: SigningKey
) -> None:
    row = json.loads(export_public(key))
    path = tmp_path / "trust.json"
    for keys in (
        [row, row],
        [{**row, "kid": "A" * 43}],
        [{**row, "d": "A" * 43}],
        [{**row, "crv": "Ed448"}],
        "x",
    ):
        path.write_text(json.dumps({"schema": 1, "keys": keys}))
        with pytest.raises(Trouble, match="not a valid TrustList"):
            TrustList.load(path)
    with pytest.raises(Trouble):
        TrustList.load(tmp_path / "none.json")
