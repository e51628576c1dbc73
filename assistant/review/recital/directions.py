"""The words that say which way a figure bounds."""

from __future__ import annotations

from assistant.review.recital.figures import Way

LOW = {
    "less", "below", "under", "lower", "fewer", "beneath", "underneath", "max", "maximum", "most", "inside", "upper",
    "highest", "longest", "smaller", "shorter", "short", "quicker", "faster", "south",
}  # fmt: skip
HIGH = {
    "more", "above", "over", "higher", "greater", "exceed", "exceeds", "exceeding", "beyond", "past", "least", "min",
    "minimum", "larger", "bigger", "further", "farther", "slower", "excess", "later", "longer", "lowest", "surpass",
    "overstep", "overshoot", "north",
}  # fmt: skip
EXTREMES: dict[str, Way] = {"minimum": "min", "min": "min", "maximum": "max", "max": "max"}
SUMMITS: dict[str, Way] = EXTREMES | {
    "most": "max", "highest": "max", "longest": "max", "ceiling": "max", "upper": "max", "top": "max",
    "largest": "max", "biggest": "max", "greatest": "max", "utmost": "max", "cap": "max", "outside": "max",
    "roof": "max",
    "least": "min", "lowest": "min", "floor": "min", "bottom": "min", "smallest": "min",
}  # fmt: skip
AS: dict[str, Way] = {"low": "min", "little": "min", "high": "max", "much": "max", "long": "max", "far": "max"}
SIDES: dict[str, Way] = {"lower": "min", "upper": "max"}
OPPOSITE: dict[Way, Way] = {"min": "max", "max": "min", "at": "at", "range": "range", "late": "late", "early": "early"}
