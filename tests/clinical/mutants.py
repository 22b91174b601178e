"""Moves a number of the data by a step and asks whether any vector notices."""

from webapp.clinical.decimals import SCALE, from_scaled, to_scaled

from .calls import answer
from .vectors import differences


def noticed(vectors) -> bool:
    return any(differences(vector.expected, answer(vector.call, vector.given)) for vector in vectors)


def survives(holder, key, step, vectors) -> list[str]:
    """The changed values that no vector notices."""
    right, unnoticed = holder[key], []
    try:
        for moved in (-step, step):
            whole = isinstance(right, int)
            holder[key] = right + moved // SCALE if whole else from_scaled(to_scaled(right) + moved)
            if not noticed(vectors):
                unnoticed.append(holder[key])
    finally:
        holder[key] = right
    return unnoticed
