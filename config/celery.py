"""The Celery app: the queue's door. What it runs is in ``jobs.tasks``."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("coat_by_coat")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
