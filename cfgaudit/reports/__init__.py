"""Findings, changes and settings as something to read: for people, and for programs."""
