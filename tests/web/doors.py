"""An office with an owner and a crew for tests, and a certificate of an authority of its own."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from slackwater.actions import accounts
from slackwater.actions.settings import HashCost

CHEAP = HashCost(memory_kib=8, passes=1, lanes=1)
"""The least that Argon2 takes: tests are about who is let in, not about how long a guess takes."""
PASSWORD = "green barrel 47 left"


def cheap(settings):
    return replace(settings, hash_cost=CHEAP)


def add_people(office):
    """An owner and somebody of the crew; their accounts by role."""
    return {role: accounts.add(office, {"name": role, "sign_in": role, "role": role, "new_password": PASSWORD}, by="")[0] for role in ("owner", "crew")}  # fmt: skip


def sign_in(call, name, password=PASSWORD):
    """The cookie of a new session, as headers."""
    answer = call.post("/sign-in", data={"sign_in": name, "password": password})
    assert answer.status_code == 303, answer.text
    return {"cookie": answer.headers["set-cookie"].partition(";")[0]}


def certificate(folder, *, days=1, names=("office.example",), addresses=("127.0.0.1",)):
    """An authority and a certificate that it signed, in files; what docs/reference/people.md does with openssl."""
    now = datetime.now(UTC)

    def signed(name, key, issuer, issuer_key, *extensions):
        made = (
            x509.CertificateBuilder().subject_name(_name(name)).issuer_name(_name(issuer)).public_key(key.public_key())
        )
        made = made.serial_number(x509.random_serial_number()).not_valid_before(now - timedelta(days=400))
        made = made.not_valid_after(now + timedelta(days=days))
        for extension, critical in extensions:
            made = made.add_extension(extension, critical)
        return made.sign(issuer_key, hashes.SHA256())

    root_key, key = (ec.generate_private_key(ec.SECP256R1()) for _ in range(2))
    usage = x509.KeyUsage(False, False, False, False, False, True, True, False, False)
    root_id = x509.SubjectKeyIdentifier.from_public_key(root_key.public_key())
    root = signed("our root", root_key, "our root", root_key, (x509.BasicConstraints(True, 0), True), (usage, True), (root_id, False))  # fmt: skip
    told = [x509.DNSName(name) for name in names] + [x509.IPAddress(ip_address(one)) for one in addresses]
    more = [(x509.SubjectAlternativeName(told), False)] if told else []
    by = x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(root_id)
    own = signed("office", key, "our root", root_key, (by, False), *more)
    pem = serialization.Encoding.PEM
    plain = serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    (folder / "ca.pem").write_bytes(root.public_bytes(pem))
    (folder / "office.pem").write_bytes(own.public_bytes(pem))
    (folder / "office.key").write_bytes(key.private_bytes(pem, *plain))
    return folder / "office.pem", folder / "office.key", folder / "ca.pem"


def _name(common):
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, common)])
