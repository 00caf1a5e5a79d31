"""Companies and the people who sign in for them."""

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.db import models
from django.db.models.functions import Lower
from django.utils import timezone

from jobs.models.rows import KeyField


class Company(models.Model):
    """A tenant: every record belongs to one, and no other company sees it."""

    name = models.CharField(max_length=200)
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ("name", "pk")
        verbose_name_plural = "companies"

    def __str__(self) -> str:
        return self.name

    @property
    def lead_names(self) -> str:
        """Whom a hand asks, in a sentence."""
        leads = self.users.filter(role=User.Role.LEAD, is_active=True)
        return " or ".join(str(lead) for lead in leads.order_by("name", "email"))


class UserManager(BaseUserManager["User"]):
    """Finds people by e-mail, capitals or not."""

    def create_user(self, email: str, password: str | None = None, **fields) -> "User":
        user = self.model(email=email.strip().lower(), **fields)
        user.set_password(password)
        user.full_clean(exclude=("password",))
        user.save(using=self._db)
        return user

    def get_by_natural_key(self, email: str | None) -> "User":
        return self.get(email=(email or "").strip().lower())


class User(AbstractBaseUser, PermissionsMixin):
    """Someone who signs in: a lead plans and issues, a hand logs coats and readings."""

    class Role(models.TextChoices):
        LEAD = "lead", "Lead"
        HAND = "hand", "Hand"

    class Units(models.TextChoices):
        METRIC = "metric", "Metric (°C, m)"
        US = "us", "US (°F, ft)"

    email = models.EmailField("e-mail", unique=True)
    name = models.CharField(max_length=200, blank=True)
    company = models.ForeignKey(Company, models.CASCADE, related_name="users")
    role = models.CharField(max_length=8, choices=Role, default=Role.HAND)
    units = models.CharField(max_length=8, choices=Units, default=Units.METRIC)
    # Which hand of the company's jobs they are: an id means one person in all of them.
    hand_key = KeyField(blank=True)
    password_mailed_at = models.DateTimeField(null=True, blank=True, editable=False)
    is_active = models.BooleanField(default=True)
    is_staff = models.BooleanField(default=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = UserManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = ("company",)

    class Meta:
        ordering = ("email",)
        constraints = (
            models.CheckConstraint(
                condition=models.Q(email=Lower("email")),
                name="user_email_is_lower_case",
            ),
            models.UniqueConstraint(
                fields=("company", "hand_key"),
                condition=~models.Q(hand_key=""),
                name="user_hand_is_one_person",
                violation_error_message="Somebody else is this hand already.",
            ),
        )

    def __str__(self) -> str:
        return self.name or self.email

    def clean(self) -> None:
        super().clean()
        self.email = self.email.strip().lower()

    @property
    def is_lead(self) -> bool:
        return self.role == self.Role.LEAD
