"""Requests nobody means to send: made by chance, from valid ones and from the API's own description."""
