"""The settings that a real host needs follow from its address alone."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SHOW = """
import json, django
from django.conf import settings
print(json.dumps({name: getattr(settings, name, None) for name in %r}, default=str))
"""


def settings_with(folder: Path, *names: str, **environment: str) -> dict[str, object]:
    """What the real settings say in a process with this environment and no other."""
    run = subprocess.run(
        [sys.executable, "-c", SHOW % (names,)],
        cwd=ROOT,
        env={
            "PATH": os.environ["PATH"],
            "DJANGO_SETTINGS_MODULE": "config.settings",
            "DATA_DIR": str(folder),
            **environment,
        },
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    return json.loads(run.stdout)


def test_a_fresh_clone_runs_on_this_machine_only(tmp_path: Path) -> None:
    seen = settings_with(
        tmp_path, "DEBUG", "ALLOWED_HOSTS", "CELERY_BROKER_URL", "SESSION_COOKIE_SECURE"
    )
    assert seen == {
        "DEBUG": False,
        "ALLOWED_HOSTS": ["127.0.0.1", "localhost"],
        "CELERY_BROKER_URL": "filesystem://",
        "SESSION_COOKIE_SECURE": False,
    }
    assert (tmp_path / "queue" / "messages").is_dir()


def test_an_https_address_makes_cookies_secure_and_is_trusted(tmp_path: Path) -> None:
    seen = settings_with(
        tmp_path,
        "ALLOWED_HOSTS",
        "CSRF_TRUSTED_ORIGINS",
        "SESSION_COOKIE_SECURE",
        "CSRF_COOKIE_SECURE",
        "SECURE_SSL_REDIRECT",
        SITE_URL="https://plans.example.com/",
    )
    assert seen == {
        "ALLOWED_HOSTS": ["127.0.0.1", "localhost", "plans.example.com"],
        "CSRF_TRUSTED_ORIGINS": ["https://plans.example.com"],
        "SESSION_COOKIE_SECURE": True,
        "CSRF_COOKIE_SECURE": True,
        "SECURE_SSL_REDIRECT": False,
    }


def test_only_a_proxy_that_was_declared_is_believed(tmp_path: Path) -> None:
    name = "SECURE_PROXY_SSL_HEADER"
    assert settings_with(tmp_path, name) == {name: None}
    behind_one = settings_with(tmp_path, name, TRUSTED_PROXIES="1")
    assert behind_one == {name: ["HTTP_X_FORWARDED_PROTO", "https"]}


@pytest.mark.parametrize("name", ["DEBUG", "SITE_URL", "BROKER_URL", "HSTS_SECONDS"])
def test_a_mistyped_setting_stops_the_program(tmp_path: Path, name: str) -> None:
    with pytest.raises(AssertionError, match=f"{name}: 'what!': "):
        settings_with(tmp_path, "DEBUG", **{name: "what!"})


def test_passwords_are_kept_by_argon2_and_mail_is_off_until_told(
    tmp_path: Path,
) -> None:
    seen = settings_with(tmp_path, "PASSWORD_HASHERS", "MAIL_ON", "EMAIL_BACKEND")
    assert str(seen["PASSWORD_HASHERS"]).count("Argon2PasswordHasher") == 1
    assert seen["PASSWORD_HASHERS"][0].endswith("Argon2PasswordHasher")
    assert (seen["MAIL_ON"], str(seen["EMAIL_BACKEND"])) == (
        False, "django.core.mail.backends.dummy.EmailBackend",
    )  # fmt: skip
    told = settings_with(
        tmp_path, "MAIL_ON", "EMAIL_HOST", "EMAIL_USE_TLS", MAIL_URL="smtp://m.example"
    )
    assert told == {"MAIL_ON": True, "EMAIL_HOST": "m.example", "EMAIL_USE_TLS": True}


def test_a_paid_weather_service_needs_its_key(tmp_path: Path) -> None:
    with pytest.raises(AssertionError, match="OPEN_METEO_USE: 'paid': set OPEN"):
        settings_with(tmp_path, "DEBUG", OPEN_METEO_USE="paid")
    with pytest.raises(AssertionError, match="OPEN_METEO_USE: 'yes': "):
        settings_with(tmp_path, "DEBUG", OPEN_METEO_USE="yes")
    (tmp_path / "key").write_text("abc\n")
    seen = settings_with(
        tmp_path,
        "OPEN_METEO_KEY",
        OPEN_METEO_USE="paid",
        OPEN_METEO_KEY_FILE=str(tmp_path / "key"),
    )
    assert seen == {"OPEN_METEO_KEY": "abc"}
