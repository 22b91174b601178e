"""Random questions to both languages: the same answers, to the last key and the last letter."""

import json
from collections import Counter
from itertools import product

from webapp.clinical import measure_order, parse_number

from .calls import answer
from .node import ask_node
from .random_cases import TYPED, Maker

SEED = 20261125
ROUNDS = 150
PIECES = [
    ("", "-", "−", "+"),
    ("", "0", "12", "007", "1234567"),
    ("", ".", ",", "٫", ".."),
    ("", "0", "5", "25", "250", " ", "\n", "\u2028"),
]


def plain(value):
    return json.loads(json.dumps(value))


def test_both_languages_agree_on_random_questions():
    questions = Maker(SEED).questions(ROUNDS)
    in_python = [plain(answer(call, given)) for call, given in questions]
    in_node = ask_node(questions)
    unlike = [
        (question, one, other)
        for question, one, other in zip(questions, in_python, in_node, strict=True)
        if one != other
    ]
    assert unlike[:1] == []


def test_the_random_questions_are_worth_asking():
    """A run that only ever meets refused bodies would agree about nothing much."""
    questions = Maker(SEED).questions(ROUNDS)
    conclusions = Counter(answer(*each)["conclusion"] for each in questions if each[0] == "conclude_visit")
    assert set(conclusions) >= {"take_care", "stop_and_seek_advice", "urgent_help"}
    judged = [answer(*each) for each in questions if each[0] == "judge_reading"]
    measured = Counter(each["measure"] for each in judged if each["measured"])
    assert all(measured[name] > ROUNDS // 3 for name in measure_order)
    rules = {rule for each in judged for rule in each["fired"]}
    assert len(rules) > 100
    checks = [answer(*each) for each in questions if each[0] == "check_reading"]
    assert len({error["code"] for each in checks for error in each["errors"]}) > 12
    assert sum(not each["errors"] for each in checks) > ROUNDS // 2


def test_both_languages_read_the_same_numbers():
    made = ["".join(parts) for parts in product(*PIECES)]
    strange = ["\u00a012", "\ufeff12", "\x1c12", "１２", "१२", "1 2", "12\r\n", "𝟙𝟚", "³"]
    asked = [{"text": text, "decimals": places} for text in TYPED + made + strange for places in (0, 1, 3)]
    in_python = [parse_number(**given) for given in asked]
    assert ask_node([("parse_number", given) for given in asked]) == in_python
