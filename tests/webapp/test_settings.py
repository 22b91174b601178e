"""Settings: nothing unsafe by default, and a plain sentence for what is missing."""

import json

import pytest

from webapp import create_app
from webapp.config import Settings, SettingsError, from_environment

GOOD = {"LINTEL_DATABASE_URL": "sqlite://", "LINTEL_SECRET_KEY": "k3J9-an invented secret for tests-x8Qz",
        "LINTEL_HOSTS": "lintel.example, www.lintel.example"}  # fmt: skip


def test_the_environment_is_read():
    settings = from_environment({**GOOD, "LINTEL_PROXIES": "2"})
    assert settings.hosts == ("lintel.example", "www.lintel.example")
    assert (settings.proxies, settings.demo, settings.secure) == (2, False, True)


@pytest.mark.parametrize(("change", "named"), [
    ({"LINTEL_DATABASE_URL": ""}, "LINTEL_DATABASE_URL"),
    ({"LINTEL_SECRET_KEY": ""}, "LINTEL_SECRET_KEY"),
    ({"LINTEL_SECRET_KEY": "short"}, "LINTEL_SECRET_KEY"),
    ({"LINTEL_SECRET_KEY": "x" * 64}, "LINTEL_SECRET_KEY"),
    ({"LINTEL_HOSTS": " , "}, "LINTEL_HOSTS"),
    ({"LINTEL_PROXIES": "many"}, "LINTEL_PROXIES"),
])  # fmt: skip
def test_what_is_missing_or_unsafe_is_named(change, named):
    with pytest.raises(SettingsError, match=named):
        from_environment({**GOOD, **change})


FORMER = "an invented, former secret with [signs] of \"every\" kind, and a comma"
OLDER = "another invented secret, from before that one"


@pytest.mark.parametrize(("text", "secrets"), [
    ("", ()),
    ("  ", ()),
    (GOOD["LINTEL_SECRET_KEY"], (GOOD["LINTEL_SECRET_KEY"],)),
    (FORMER.replace(",", ";"), (FORMER.replace(",", ";"),)),
    (" a former one with a space at both its ends ", (" a former one with a space at both its ends ",)),
    (json.dumps([FORMER]), (FORMER,)),
    (json.dumps([FORMER, OLDER], indent=1), (FORMER, OLDER)),
    ("[]", ()),
])  # fmt: skip
def test_former_secrets_are_read_just_as_they_were(text, secrets):
    assert from_environment({**GOOD, "LINTEL_OLD_SECRET_KEYS": text}).old_secret_keys == secrets


@pytest.mark.parametrize("text", [
    FORMER,
    f"{GOOD['LINTEL_SECRET_KEY']},{OLDER}",
    f"[{FORMER}]",
    f'["{OLDER}"',
    json.dumps([OLDER, "short"]),
    json.dumps([OLDER, None]),
    json.dumps([[OLDER]]),
    "too short to be one",
])  # fmt: skip
def test_a_former_secret_that_would_be_of_no_use_is_refused_and_not_repeated(text):
    with pytest.raises(SettingsError, match="LINTEL_OLD_SECRET_KEYS .*JSON list") as refused:
        from_environment({**GOOD, "LINTEL_OLD_SECRET_KEYS": text})
    assert "invented" not in str(refused.value)


def test_the_application_does_not_start_without_settings(monkeypatch):
    for name in GOOD:
        monkeypatch.delenv(name, raising=False)
    with pytest.raises(SettingsError):
        create_app()


def test_the_demo_answers_to_loopback_only():
    settings = Settings(database_url="sqlite://", secret_key=GOOD["LINTEL_SECRET_KEY"], demo=True)
    assert settings.trusted_hosts == ("127.0.0.1", "localhost", "[::1]")


def test_a_proxy_in_front_is_believed_only_when_told_so(tmp_path):
    from webapp.storage import upgrade

    url = f"sqlite:///{tmp_path / 'x.sqlite3'}"
    upgrade(url)
    headers = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "192.0.2.1", "Host": "lintel.example"}
    for proxies, secure in ((0, False), (1, True)):
        app = create_app(
            from_environment({**GOOD, "LINTEL_DATABASE_URL": url, "LINTEL_PROXIES": str(proxies)})
        )
        answer = app.test_client().get("/healthz", headers=headers)
        assert ("Strict-Transport-Security" in answer.headers) is secure
        app.extensions["lintel.database"].dispose()
