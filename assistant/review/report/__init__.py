"""The report of one check: its results as data, its course as rows, and one page that shows both."""

from assistant.review.report.page import Wording, render
from assistant.review.report.results import Finding, Results, Trust, results
from assistant.review.report.trust import judge_log, sound_beside

__all__ = ["Finding", "Results", "Trust", "Wording", "judge_log", "render", "results", "sound_beside"]
