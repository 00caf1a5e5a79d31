"""The first company from the shell."""

import io

import pytest
from django.core.management import CommandError, call_command

from jobs.models import Company, User


def test_a_company_starts_with_a_password_from_the_environment(
    db: None, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COAT_PASSWORD", "paper and pigment")
    call_command("start_company", "Harbour", "Ann@example.com", "--person", "Ann")
    lead = User.objects.get()
    assert (lead.name, lead.email, lead.role) == ("Ann", "ann@example.com", "lead")
    assert lead.check_password("paper and pigment")
    out = capsys.readouterr().out
    assert "manage.py serve" in out
    assert "http://localhost:8000" in out
    assert "paper and pigment" not in out


def test_a_company_starts_with_a_password_from_standard_input(
    db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("paper and pigment\nmore"))
    call_command("start_company", "Harbour", "ann@example.com", "--password-stdin")
    assert User.objects.get().check_password("paper and pigment")


def test_a_password_typed_twice_is_taken(
    db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.delenv("COAT_PASSWORD", raising=False)
    monkeypatch.setattr("sys.stdin", Terminal())
    typed = ["paper and pigment", "paper and pigment"]
    monkeypatch.setattr("getpass.getpass", lambda _: typed.pop())
    call_command("start_company", "Harbour", "ann@example.com")
    assert User.objects.get().check_password("paper and pigment")
    typed = ["paper and pigment", "something else"]
    with pytest.raises(CommandError, match="not the same"):
        call_command("start_company", "Harbour", "bob@example.com")


@pytest.mark.parametrize(
    ("name", "email", "password", "field"),
    [
        ("Harbour", "ann", "paper and pigment", "email"),
        ("", "ann@example.com", "paper and pigment", "name"),
        ("Harbour", "ann@example.com", "12345678", "password"),
    ],
)
def test_what_cannot_be_is_named_by_field_and_exits_2(
    db: None, monkeypatch: pytest.MonkeyPatch, name: str, email: str,
    password: str, field: str,
) -> None:  # fmt: skip
    monkeypatch.setenv("COAT_PASSWORD", password)
    with pytest.raises(CommandError, match=f"^{field}: ") as caught:
        call_command("start_company", name, email)
    assert caught.value.returncode == 2
    assert not Company.objects.exists()


def test_without_a_password_and_a_terminal_it_says_how_to_give_one(
    db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("COAT_PASSWORD", raising=False)
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    with pytest.raises(CommandError, match="COAT_PASSWORD") as caught:
        call_command("start_company", "Harbour", "ann@example.com")
    assert caught.value.returncode == 2
