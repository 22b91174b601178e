"""Check a page with axe-core, read from the browser packages and injected past the content policy."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from playwright.sync_api import Page

AXE = Path(__file__).resolve().parents[2] / "static" / "node_modules" / "axe-core" / "axe.min.js"
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
OPTIONS = {
    "runOnly": {"type": "tag", "values": TAGS},
    "rules": {"target-size": {"enabled": True}},
    "resultTypes": ["violations", "incomplete"],
}
# What may differ between the light and the dark look of one and the same page.
COLOURS = {**OPTIONS, "runOnly": {"type": "rule", "values": ["color-contrast"]}, "rules": {}}


@dataclass(frozen=True)
class Report:
    """What axe found: rule id and the elements concerned, sure (violations) and unsure (incomplete)."""

    violations: dict[str, list[str]]
    incomplete: dict[str, list[str]]


@cache
def axe_source() -> str:
    return AXE.read_text(encoding="utf-8")


def examine(page: Page, options: dict = OPTIONS) -> Report:
    """Run axe on the page as it stands; with COLOURS for what a second look at it in other colours adds."""
    # By evaluate, not by a script tag: the page's policy rightly refuses the latter.
    page.evaluate(axe_source())
    found = page.evaluate("(options) => axe.run(document, options)", options)
    return Report(by_rule(found["violations"]), by_rule(found["incomplete"]))


def by_rule(results: list[dict]) -> dict[str, list[str]]:
    return {each["id"]: [describe(node) for node in each["nodes"]] for each in results}


def describe(node: dict) -> str:
    # With `incomplete`, the reason stands in the checks' messages; the summary repeats it in one text.
    return f"{' '.join(map(str, node['target']))}: {' '.join((node.get('failureSummary') or '').split())}"


def assert_accessible(page: Page, judged: Mapping[str, str] | None = None, options: dict = OPTIONS) -> Report:
    """Fail on a violation, and on an unsure result that `judged` (rule id -> reason) does not explain."""
    report = examine(page, options)
    unsure = {rule: nodes for rule, nodes in report.incomplete.items() if rule not in (judged or {})}
    problems = [f"{rule}: {node}" for rule, nodes in report.violations.items() for node in nodes]
    problems += [f"unsure, judge it: {rule}: {node}" for rule, nodes in unsure.items() for node in nodes]
    assert not problems, f"axe on {page.url}:\n" + "\n".join(problems)
    return report
