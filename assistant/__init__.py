"""Gladhand: a voice-driven, hands-free assistant for the in-cab air brake check of a heavy vehicle."""

__version__ = "0.1.0"
