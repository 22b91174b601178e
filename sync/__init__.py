"""Lintel's sync: messages, canonical JSON, a Python client. Standard library only; see PROTOCOL.md."""
