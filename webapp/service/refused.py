"""Why a command did nothing."""


class Refused(Exception):
    """What was asked cannot be done; the text is the whole explanation a person needs."""
