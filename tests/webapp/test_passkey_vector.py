"""The W3C's own test vector for passkeys, by the library and over HTTP."""

import json
import uuid

from webauthn import verify_authentication_response, verify_registration_response

from tests.webapp.authenticator import unpadded
from tests.webapp.support import House
from tests.webapp.test_own_account import token_in
from tests.webapp.test_passkeys import refusals
from webapp.storage.models import Passkey
from webapp.storage.passkeys import hash_of_credential

# W3C, Web Authentication Level 3, section 16 "Test Vectors", "ES256 Credential with No Attestation".
SPEC = {
    "credential": "f91f391db4c9b2fde0ea70189cba3fb63f579ba6122b33ad94ff3ec330084be4",
    "made_for": "00c30fb78531c464d2b6771dab8d7b603c01162f2fa486bea70f283ae556e130",
    "made_client": (
        "7b2274797065223a22776562617574686e2e637265617465222c226368616c6c656e6765223a22414d4d507434557878"
        "475453746e63647134313759447742466938767049612d7077386f4f755657345441222c226f726967696e223a226874"
        "7470733a2f2f6578616d706c652e6f7267222c2263726f73734f726967696e223a66616c73652c226578747261446174"
        "61223a22636c69656e74446174614a534f4e206d617920626520657874656e6465642077697468206164646974696f6e"
        "616c206669656c647320696e20746865206675747572652c207375636820617320746869733a20426b5165446a646354"
        "427258426941774a544c453551227d"
    ),
    "attestation": (
        "a363666d74646e6f6e656761747453746d74a068617574684461746158a4bfabc37432958b063360d3ad6461c9c4735a"
        "e7f8edd46592a5e0f01452b2e4b559000000008446ccb9ab1db374750b2367ff6f3a1f0020f91f391db4c9b2fde0ea70"
        "189cba3fb63f579ba6122b33ad94ff3ec330084be4a5010203262001215820afefa16f97ca9b2d23eb86ccb64098d20d"
        "b90856062eb249c33a9b672f26df61225820930a56b87a2fca66334b03458abf879717c12cc68ed73290af2e2664796b"
        "9220"
    ),
    "used_for": "39c0e7521417ba54d43e8dc95174f423dee9bf3cd804ff6d65c857c9abf4d408",
    "data": "bfabc37432958b063360d3ad6461c9c4735ae7f8edd46592a5e0f01452b2e4b51900000000",
    "used_client": (
        "7b2274797065223a22776562617574686e2e676574222c226368616c6c656e6765223a224f63446e55685158756c5455"
        "506f334a5558543049393770767a7a59425039745a63685879617630314167222c226f726967696e223a226874747073"
        "3a2f2f6578616d706c652e6f7267222c2263726f73734f726967696e223a66616c73657d"
    ),
    "signature": (
        "3046022100f50a4e2e4409249c4a853ba361282f09841df4dd4547a13a87780218deffcd380221008480ac0f0b935381"
        "74f575bf11a1dd5d78c6e486013f937295ea13653e331e87"
    ),
}
MADE = {"clientDataJSON": "made_client", "attestationObject": "attestation"}
USED = {"clientDataJSON": "used_client", "authenticatorData": "data", "signature": "signature"}
PLACE = {"expected_rp_id": "example.org", "expected_origin": "https://example.org"}


def spec(name: str) -> bytes:
    return bytes.fromhex(SPEC[name])


def spec_answer(**parts: str) -> str:
    response = {name: unpadded(spec(part)) for name, part in parts.items()}
    own = unpadded(spec("credential"))
    return json.dumps({"id": own, "rawId": own, "type": "public-key", "response": response})


def test_the_standards_own_vector_holds():
    """The control of the next test: where nobody asks for the person to be verified, its answers are good."""
    made = spec_answer(**MADE)
    found = verify_registration_response(credential=made, expected_challenge=spec("made_for"), **PLACE)
    used = spec_answer(**USED)
    done = verify_authentication_response(
        credential=used, expected_challenge=spec("used_for"), credential_current_sign_count=0,
        credential_public_key=found.credential_public_key, **PLACE,
    )  # fmt: skip
    assert done.credential_id == spec("credential") and not done.user_verified


def test_case_39_the_standards_vector_without_verification_is_refused(database_url, monkeypatch):
    """The same bytes over HTTP, to a challenge that was given out, at the host they are for."""
    house = House(database_url, demo=False, hosts=("example.org",))
    monkeypatch.setattr("webapp.features.accounts.ceremonies.secrets.token_bytes", lambda _: spec("used_for"))
    browser, place = house.app.test_client(), {"base_url": "https://example.org"}
    headers = {"Referer": "https://example.org/sign-in"}
    with house.database.writing() as session:
        made = spec_answer(**MADE)
        found = verify_registration_response(credential=made, expected_challenge=spec("made_for"), **PLACE)
        own = unpadded(spec("credential"))
        person = house.people["ann"]
        session.add(
            Passkey(organisation_id=person.organisation, user_id=person.id, credential_id=own,
                    credential_hash=hash_of_credential(own), public_key=found.credential_public_key,
                    sign_count=0, backed_up=True, name="spec", created_at=house.clock())
        )  # fmt: skip
    token = token_in(browser.get("/sign-in", **place).text)
    browser.post("/sign-in/passkey/options", headers=headers | {"X-CSRFToken": token}, **place)
    used = json.loads(spec_answer(**USED))
    used["response"]["userHandle"] = unpadded(uuid.UUID(person.id).bytes)
    data = {"csrf_token": token, "answer": json.dumps(used)}
    answer = browser.post("/sign-in/passkey", data=data, headers=headers, **place)
    assert answer.status_code == 401 and refusals(house) == ["not_verified"]
    house.close()
