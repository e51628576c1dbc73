"""Gladhand: a voice-driven, hands-free assistant for the in-cab air brake check of a heavy vehicle."""

import os

# What a log holds is checked by this package alone, not by pydantic's plugins that some other program has brought;
# looking for them among all installed packages would also take a tenth of the time of a report.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

__version__ = "0.1.0"
