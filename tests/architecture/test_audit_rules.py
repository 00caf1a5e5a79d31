"""No rule of the audit without a plan that is broken on purpose to meet it."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
NAMED = re.compile(r'(?:Violation\(\s*|_inside\()"([a-z-]+)"')


def rules() -> set[str]:
    """Every rule's name, as the audit tells it."""
    found: set[str] = set()
    for name in ("audit.py", "audit_site.py"):
        text = (ROOT / "scheduling" / name).read_text()
        found |= set(NAMED.findall(text))
    return found


def broken() -> set[str]:
    """Names that tests expect of plans broken on purpose."""
    found: set[str] = set()
    for path in (ROOT / "tests" / "scheduling").glob("test_*.py"):
        for block in path.read_text().split("\n\n\n"):
            if "broken_rules(" in block:
                found |= set(re.findall(r'"([a-z-]+)"', block))
    return found


def test_every_rule_of_the_audit_is_broken_on_purpose_somewhere() -> None:
    assert len(rules()) > 25
    assert rules() - broken() == set()
