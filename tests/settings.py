"""The settings tests run with: the real ones, in a folder of their own.

Loaded by pytest before anything else, so that no test touches the checkout's data.
"""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

_folder = Path(tempfile.mkdtemp(prefix="coat-tests-"))
_maker = os.getpid()


def _remove() -> None:
    if os.getpid() == _maker:  # not in a forked child
        shutil.rmtree(_folder, ignore_errors=True)


atexit.register(_remove)

for _name in (
    "BROKER_URL",
    "DATABASE_URL",
    "DEBUG",
    "HSTS_SECONDS",
    "LOG_LEVEL",
    "OPEN_METEO_KEY",
    "OPEN_METEO_USE",
    "SECRET_KEY",
    "SITE_URL",
    "TRUSTED_PROXIES",
    "WEATHER_CONTACT",
):
    os.environ.pop(_name, None)
    os.environ.pop(f"{_name}_FILE", None)
os.environ["DATA_DIR"] = str(_folder)

from config.settings import *  # noqa: E402, F403 - after the environment is set

# Argon2 is slow on purpose; tests sign in hundreds of times.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
# The hashed names need collectstatic, which tests/docker runs for real.
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
