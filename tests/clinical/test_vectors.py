"""The vectors in both languages: each meets what is expected, and both answer alike to the last key."""

import json

import pytest

from .calls import answer
from .node import ask_node
from .vectors import all_vectors, differences

VECTORS = all_vectors()


@pytest.fixture(scope="module")
def node_answers():
    return ask_node([(vector.call, vector.given) for vector in VECTORS])


@pytest.mark.parametrize("vector", VECTORS, ids=lambda vector: vector.name)
def test_python(vector):
    assert differences(vector.expected, answer(vector.call, vector.given)) == []


@pytest.mark.parametrize("place", range(len(VECTORS)), ids=[vector.name for vector in VECTORS])
def test_node(place, node_answers):
    assert differences(VECTORS[place].expected, node_answers[place]) == []


def test_both_answer_alike(node_answers):
    in_python = [json.loads(json.dumps(answer(vector.call, vector.given))) for vector in VECTORS]
    answers = zip(VECTORS, in_python, node_answers, strict=True)
    unlike = [vector.name for vector, one, other in answers if one != other]
    assert unlike == []
