"""WebAuthn: what a browser is asked for, and whether what it answered holds. The library does the checking.

The answer must come from this host's own pages, to a challenge given out for this and not answered before,
and the authenticator must have verified the person. Why one is refused is a code for the audit.
"""

import logging
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from urllib.parse import urlsplit
from uuid import UUID

from flask import request
from webauthn import (
    generate_authentication_options,
    generate_registration_options,
    options_to_json,
    verify_authentication_response,
    verify_registration_response,
)
from webauthn.helpers import (
    base64url_to_bytes,
    bytes_to_base64url,
    parse_authentication_credential_json,
    parse_client_data_json,
    parse_registration_credential_json,
)
from webauthn.helpers.exceptions import WebAuthnException
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from webapp.features.current import database
from webapp.storage import Person
from webapp.storage.models import Passkey
from webapp.storage.passkeys import (
    ANSWER_WITHIN,
    Found,
    NewPasskey,
    find_passkey,
    keep_challenge,
    note_refused,
    take_challenge,
)

log = logging.getLogger("lintel")
CHALLENGE_BYTES = 32
TIMEOUT = int(ANSWER_WITHIN.total_seconds() * 1000)
VERIFIED = UserVerificationRequirement.REQUIRED


class AnswerRefused(Exception):
    """What an authenticator answered does not hold; why, as a code."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


@dataclass(frozen=True)
class Answered:
    """A sign-in whose answer was verified."""

    credential_id: str
    sign_count: int


def registration_options(person: Person, sign_in_name: str, known: list[Passkey], now: datetime) -> str:
    """What a browser is asked for to make a passkey, as JSON."""
    challenge = secrets.token_bytes(CHALLENGE_BYTES)
    keep_challenge(database(), challenge, person, now)
    options = generate_registration_options(
        rp_id=_host(),
        rp_name="Lintel",
        user_id=UUID(person.id).bytes,
        user_name=sign_in_name,
        user_display_name=person.name,
        challenge=challenge,
        timeout=TIMEOUT,
        authenticator_selection=AuthenticatorSelectionCriteria(
            resident_key=ResidentKeyRequirement.REQUIRED, user_verification=VERIFIED
        ),
        exclude_credentials=[
            PublicKeyCredentialDescriptor(id=base64url_to_bytes(each.credential_id)) for each in known
        ],
    )
    return options_to_json(options)


def sign_in_options(address: str, now: datetime) -> str:
    """What a browser is asked for to sign in, whoever it is, as JSON."""
    challenge = secrets.token_bytes(CHALLENGE_BYTES)
    keep_challenge(database(), challenge, address, now)
    return options_to_json(
        generate_authentication_options(
            rp_id=_host(), challenge=challenge, timeout=TIMEOUT, user_verification=VERIFIED
        )
    )


def registered(person: Person, answer: str, now: datetime) -> NewPasskey:
    """The passkey that an answer brings; AnswerRefused, and written down, when it does not hold."""
    try:
        credential = _read(parse_registration_credential_json, answer)
        challenge = _checked(credential, person, now)
        made = _verified(verify_registration_response, credential, challenge)
    except AnswerRefused as refused:
        note_refused(database(), person, refused.reason, now)
        raise
    return NewPasskey(
        bytes_to_base64url(made.credential_id),
        made.credential_public_key,
        made.sign_count,
        made.credential_backed_up,
    )


def answered(answer: str, now: datetime) -> Answered:
    """The sign-in that an answer stands for; AnswerRefused, written down where it is known for whom."""
    found: Found | None = None
    try:
        credential = _read(parse_authentication_credential_json, answer)
        found = find_passkey(database(), credential.id)
        challenge = _checked(credential, None, now)
        if found is None:
            raise AnswerRefused("unknown_passkey")
        if not found.active:
            raise AnswerRefused("closed")
        if credential.response.user_handle != UUID(found.person.id).bytes:
            raise AnswerRefused("another_person")
        made = _verified(
            verify_authentication_response,
            credential,
            challenge,
            credential_public_key=found.public_key,
            # A count that goes back is written down afterwards, and no reason to refuse.
            credential_current_sign_count=0,
        )
    except AnswerRefused as refused:
        if found is not None:
            note_refused(database(), found.person, refused.reason, now)
        log.info("passkey_refused", extra={"code": refused.reason})
        raise
    return Answered(credential.id, made.new_sign_count)


def _read(parse: Callable[[str], Any], answer: str) -> Any:
    try:
        return parse(answer)
    # The library trusts what it parses in places; whatever it stumbles over is no answer.
    except Exception as error:
        raise AnswerRefused("malformed") from error


def _checked(credential: Any, person: Person | None, now: datetime) -> bytes:
    """The challenge an answer is to: used up first, then the place it was given and the person's check."""
    try:
        told = parse_client_data_json(credential.response.client_data_json)
    except (WebAuthnException, ValueError, KeyError, TypeError) as error:
        raise AnswerRefused("malformed") from error
    if not take_challenge(database(), told.challenge, person, now):
        raise AnswerRefused("challenge")
    if told.origin != _origin():
        raise AnswerRefused("origin")
    return told.challenge


def _verified(verify: Callable[..., Any], credential: Any, challenge: bytes, **known: Any) -> Any:
    try:
        return verify(
            credential=credential,
            expected_challenge=challenge,
            expected_rp_id=_host(),
            expected_origin=_origin(),
            require_user_verification=True,
            **known,
        )
    except WebAuthnException as error:
        raise AnswerRefused(_code(str(error))) from error
    except Exception as error:
        raise AnswerRefused("malformed") from error


def _code(message: str) -> str:
    """The library tells its reasons in sentences only; what none of these is found in is "not_valid"."""
    for part, code in (("RP ID", "host"), ("User verification", "not_verified"), ("signature", "signature")):
        if part in message:
            return code
    return "not_valid"


def _host() -> str:
    """The host name passkeys are bound to: one of the settings', which were checked at the door."""
    return urlsplit(request.host_url).hostname or ""


def _origin() -> str:
    return request.host_url.rstrip("/")
