"""Why a backup was not made, or not restored."""


class BackupFailed(Exception):
    """Nothing was changed; the text says why and what to do."""
