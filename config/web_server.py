"""How gunicorn serves the pages; read with ``gunicorn --config``."""

from datetime import timedelta
from typing import Any

from gunicorn.glogging import Logger

from config.environment import flag, number, text
from config.logs import hide_tokens


class TokenFreeLogger(Logger):
    """Gunicorn's access log, with private links hidden."""

    def atoms(
        self, resp: Any, req: Any, environ: dict[str, Any], request_time: timedelta
    ) -> dict[str, Any]:
        """What one line may show; every text in it is cleaned."""
        atoms = super().atoms(resp, req, environ, request_time)
        return {
            name: hide_tokens(value) if isinstance(value, str) else value
            for name, value in atoms.items()
        }


wsgi_app = "config.wsgi:application"
bind = text("WEB_LISTEN", default="127.0.0.1:8000")
worker_class = "gthread"
workers = number("WEB_PROCESSES", default=1, least=1, most=64)
threads = number("WEB_THREADS", default=8, least=1, most=256)
timeout = 60  # seconds; no page plans anything itself
accesslog = "-" if flag("WEB_ACCESS_LOG", default=True) else None
logger_class = TokenFreeLogger
