"""Invitations, and where people are signed in."""

from django.contrib.sessions.backends.db import SessionStore as DatabaseStore
from django.contrib.sessions.base_session import AbstractBaseSession, BaseSessionManager
from django.db import models
from django.utils import timezone

from jobs.models.company import Company, User
from jobs.models.rows import KeyField


class Invitation(models.Model):
    """A one-time way in for one e-mail address; gone once it is taken up.

    Whoever has the token can take it up, so only the token's SHA-256 is kept.
    """

    company = models.ForeignKey(Company, models.CASCADE, related_name="invitations")
    email = models.EmailField("e-mail")
    role = models.CharField(max_length=8, choices=User.Role, default=User.Role.HAND)
    hand_key = KeyField(blank=True)
    token_sha256 = models.CharField(max_length=64, unique=True, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    expires_at = models.DateTimeField()
    made_by = models.ForeignKey(
        User, models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("email",)
        constraints = (
            models.UniqueConstraint(
                fields=("company", "email"), name="invitation_once_an_address"
            ),
        )

    def __str__(self) -> str:
        return self.email


class SignedIn(AbstractBaseSession):
    """A session that knows whose it is, so that a person can end all of theirs."""

    # Without a constraint: a session made in the moment its owner is removed must be
    # no error. It lets nobody in, and ends by itself.
    user = models.ForeignKey(
        User, models.CASCADE, null=True, db_constraint=False, related_name="sessions"
    )

    objects = BaseSessionManager()

    class Meta(AbstractBaseSession.Meta):
        abstract = False

    def __str__(self) -> str:
        return f"until {self.expire_date}"

    @classmethod
    def get_session_store_class(cls) -> type[DatabaseStore]:
        return SessionStore


class SessionStore(DatabaseStore):
    """Keeps sessions in the database, with their owner beside them."""

    @classmethod
    def get_model_class(cls) -> type[SignedIn]:
        return SignedIn

    def create_model_instance(self, data: dict) -> SignedIn:
        row = super().create_model_instance(data)
        owner = str(data.get("_auth_user_id", ""))
        row.user_id = int(owner) if owner.isdigit() else None
        return row
