"""Runs the rule book over a craft: findings, and what could not be checked."""
