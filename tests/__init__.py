"""Tests; the folders mirror cfgaudit/, and outside/ checks against published sources."""
