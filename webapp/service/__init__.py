"""What a service does for all its people from the command line: `python3 -m webapp.service --help`."""
