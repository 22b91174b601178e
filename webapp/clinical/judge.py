"""What a reading means: against the adult range, the client's own target, own baseline, and the last time."""

from typing import Any

from .baseline import baseline_findings
from .expressions import evaluate
from .facts import derive_facts, scope_for
from .last_time import last_time_findings
from .load import data
from .targets import inside_targets, softened, target_findings
from .wording import fact_words, fill

Body = dict[str, Any]
Finding = dict[str, Any]


def judge_reading(measure_id: str, body: Body, context: Body | None = None) -> dict[str, Any]:
    """The facts of a reading and every finding about it, each naming its rule and source."""
    context = context or {}
    measure = data()["measures"][measure_id]
    facts = derive_facts(measure_id, body, context)
    measured = any(name in facts for name in measure["value"])
    judgement = {
        "measure": measure_id,
        "measured": measured,
        "facts": facts,
        "findings": _findings(measure, facts, context) if measured else [],
        "data_version": data()["index"]["data_version"],
    }
    if isinstance(body, dict) and isinstance(body.get("not_measured"), dict):
        judgement["not_measured"] = body["not_measured"]
    return judgement


def judge_visit(bodies: dict[str, Body], context: Body | None = None) -> list[dict[str, Any]]:
    """All readings of a visit, each judged knowing the others."""
    facts = {measure: derive_facts(measure, body, context) for measure, body in bodies.items()}
    known = {**(context or {}), "reading_facts": facts}
    order = data()["index"]["measures"]
    return [judge_reading(name, bodies[name], known) for name in order if name in bodies]


def _findings(measure: Body, facts: Body, context: Body) -> list[Finding]:
    scope = scope_for(measure["id"], facts, context)
    rules = _rule_findings(measure, scope, facts, context)
    judged = [*rules, *target_findings(measure, facts, context)]
    grave = any(found["level"] not in ("go_on", "note") for found in judged)
    own = [*judged, *baseline_findings(measure, facts, context, grave)]
    return [*own, *last_time_findings(measure, facts, scope, context)]


def _rule_findings(measure: Body, scope: Body, facts: Body, context: Body) -> list[Finding]:
    rules, findings = measure["rules"], []
    adult = data()["conclusions"]["adult"]
    child = evaluate({"lt": ["age", adult["from_age"]]}, scope) is True
    if child:
        rules = [rule for rule in rules if rule["against"] != "adult_range"]
        words = {"age": str(scope["age"])}
        findings.append(_stated(measure, "adult_only", adult["child"] | {"source": adult["source"]}, words))
    fired = firing(rules, scope)
    words = fact_words(measure, facts)
    findings += [_found(measure, rule, scope, context, words) for rule in fired]
    if not child and not _says_something(measure, fired):
        findings.append(_stated(measure, "not_judged", data()["conclusions"]["not_judged"], {}))
    return findings


def firing(rules: list[Body], scope: Body) -> list[Body]:
    """The rules that hold; of a group only the first."""
    fired: list[Body] = []
    for rule in rules:
        taken = "group" in rule and any(other.get("group") == rule["group"] for other in fired)
        if not taken and evaluate(rule["when"], scope) is True:
            fired.append(rule)
    return fired


def finding(measure: Body, rule: Body, words: dict[str, str]) -> Finding:
    """A rule that fired, in words."""
    told = {
        "rule": f"{measure['id']}.{rule['id']}",
        "against": rule["against"],
        "level": rule["level"],
        "word": rule["word"],
        "because": fill(rule["because"], words),
        "source": rule["source"],
        "plain": rule["plain"],
    }
    return told | ({"scale": rule["scale"]} if "scale" in rule else {})


def usual_range(measure: Body, field: str, scope: Body) -> dict[str, Any] | None:
    """The range in which this field would be a go on, all else (site, supply) being as it is."""
    kind = ("adult_range", "go_on")
    usual = [rule for rule in measure["rules"] if (rule["against"], rule["level"]) == kind]
    other = {name: value for name, value in scope.items() if name not in measure["value"]}
    for rule in usual:
        scale = rule["scale"]
        edge = {field: scale["low"] or scale["high"]}
        if scale["field"] == field and evaluate(rule["when"], {**other, **edge}) is not False:
            return {"low": scale["low"], "high": scale["high"]}
    return None


def _found(measure: Body, rule: Body, scope: Body, context: Body, words: dict[str, str]) -> Finding:
    told = _softened(measure, rule, scope, context, finding(measure, rule, words))
    if rule["against"] != "adult_range":
        return told
    return {**told, "usual": usual_range(measure, rule["scale"]["field"], scope)}


def _says_something(measure: Body, fired: list[Body]) -> bool:
    """Whether a rule of the judging kind fired: silence must not look like a good answer."""
    kinds = {rule["against"] for rule in measure["rules"]}
    judging = "adult_range" if "adult_range" in kinds else "caution"
    return any(rule["against"] == judging or rule.get("judges") for rule in fired)


def _softened(measure: Body, rule: Body, scope: Body, context: Body, found: Finding) -> Finding:
    # A prescribed range is the client's own already: no other target may soften a reading outside it.
    fixed = rule["level"] != "take_care" or rule.get("softens") is False
    if rule["against"] != "adult_range" or fixed:
        return found
    inside = inside_targets(measure, scope, context)
    # The rule without what is inside its target: if it still holds, something else carries it.
    rest = {name: value for name, value in scope.items() if name not in inside}
    if not inside or evaluate(rule["when"], rest) is True:
        return found
    return softened(measure, found, inside)


def _stated(measure: Body, name: str, text: Body, words: dict[str, str]) -> Finding:
    rule = {"id": name, "against": "caution", **text}
    return finding(measure, rule, words)
