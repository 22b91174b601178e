"""Why something that was asked for is not done, in a sentence a person can act on."""


class Refused(Exception):
    """It cannot be done as asked; `field` names what to change, where one thing is to change."""

    def __init__(self, sentence: str, field: str | None = None) -> None:
        super().__init__(sentence)
        self.sentence, self.field = sentence, field


class NotThere(Refused):
    """There is no such person, team, client or device in the organisation of whoever asks."""
