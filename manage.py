#!/usr/bin/env python
"""Django's door."""

import os
import sys

FILE_COMMANDS = ("clocks", "plan", "ready", "write_schemas")


def main() -> None:
    """Runs one management command."""
    if sys.argv[1:2] and sys.argv[1] in FILE_COMMANDS:
        os.environ["KEEP_NOTHING"] = "true"  # no folder or secret is made for them
    os.environ["PYTHONTZPATH"] = ""  # see config/__init__.py
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError as missing:
        raise SystemExit(
            f"{missing}. Run `make setup`, then .venv/bin/python manage.py, "
            "or activate .venv first."
        ) from missing
    from django.core.exceptions import ImproperlyConfigured

    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as wrong:  # a mistyped setting: a line, no traceback
        raise SystemExit(str(wrong)) from None


if __name__ == "__main__":
    main()
