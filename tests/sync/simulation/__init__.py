"""A whole service in one process: phones, a line that spoils, a server, and one source of chance."""
