"""Reminding therapists of reassessments: when, by what way, and the workers that do it."""
