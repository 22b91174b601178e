"""Turn the output of a failed set-up step into a sentence. Standard library only, plain old syntax."""

# Words of pip and npm for "no connection", as one list so that a new wording is one line.
SIGNS_OF_NO_NETWORK = (
    """
NewConnectionError|Failed to establish|NameResolutionError|Temporary failure in name resolution|getaddrinfo
EAI_AGAIN|ENOTFOUND|ECONNREFUSED|ETIMEDOUT|ENETUNREACH|ConnectTimeoutError|ProxyError
Network is unreachable|Connection refused|Read timed out
""".strip()
    .replace("\n", "|")
    .split("|")
)


def explain(task: str, output: str) -> str:
    """Say why a step failed: no network, or the words of the program that failed."""
    if any(sign in output for sign in SIGNS_OF_NO_NETWORK):
        return (
            f"Setting up stopped at {task}: the package registry could not be reached. "
            "Connect to the internet and run the same command again."
        )
    lines = output.strip().splitlines()
    # Both pip and esbuild print a line with ERROR first and, at times, a long trace of their own after it.
    start = next((number for number, line in enumerate(lines) if "ERROR" in line), max(0, len(lines) - 8))
    shown = "\n  ".join(lines[start : start + 8])
    return f"Setting up stopped at {task}. From .lintel/setup.log:\n  {shown}"
