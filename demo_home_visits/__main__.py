"""Try Lintel with invented people: `python3 -m demo_home_visits`."""

from demo_home_visits import private_environment

private_environment.enter("demo_home_visits")

from demo_home_visits import serve  # noqa: E402  (only inside the environment)

serve.main()
