"""Keeps private links out of every log: whoever reads a log must not get a feed."""

import logging
import re

# Link tokens are 32 random bytes in URL-safe base 64, 43 letters; half of one is
# already too much to show.
TOKEN = re.compile(r"(?<![A-Za-z0-9_-])[A-Za-z0-9_-]{32,}(?![A-Za-z0-9_-])")
PATH = re.compile(r"/[^\s\"'?]*")


def hide_tokens(line: str) -> str:
    """The line with every token-like part of a path replaced."""
    return PATH.sub(lambda path: TOKEN.sub("(hidden)", path[0]), line)


class HideTokens(logging.Filter):
    """Cleans a record's text and arguments; lets every record through."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Always true: it changes, it does not drop."""
        record.msg = hide_tokens(record.getMessage())
        record.args = ()
        return True
