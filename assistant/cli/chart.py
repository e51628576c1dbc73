"""A chart of the needles of a rehearsal, over time."""

from __future__ import annotations

from pathlib import Path

from assistant.core.trouble import Missing, Trouble
from assistant.vehicle.vehicle import Vehicle

EVERY_S = 0.5


class Trace:
    """Keeps where the needles stood, every half second."""

    def __init__(self) -> None:
        self.seconds: list[float] = []
        self.psi: dict[str, list[float]] = {"primary": [], "secondary": []}

    def look(self, vehicle: Vehicle) -> None:
        """Keep this moment, if it is time."""
        if self.seconds and vehicle.now_s - self.seconds[-1] < EVERY_S:
            return
        self.seconds.append(vehicle.now_s)
        for needle, psi in vehicle.needles().items():
            self.psi[needle].append(psi)


def draw(trace: Trace, file: Path, title: str) -> None:
    """Save the chart; the file's ending says the format. Raises Missing without matplotlib, Trouble for the file."""
    try:
        from matplotlib.figure import Figure
    except ImportError:
        raise Missing("A chart needs matplotlib: pip install matplotlib. Or leave out --plot.") from None
    figure = Figure(figsize=(10, 4), layout="constrained")
    axes = figure.add_subplot(title=title, xlabel="seconds", ylabel="psi", ylim=(0, 155))
    for needle, style in (("primary", "-"), ("secondary", "--")):
        axes.plot(trace.seconds, trace.psi[needle], style, label=needle)
    axes.grid(alpha=0.3)
    axes.legend()
    try:
        figure.savefig(file)
    except (OSError, ValueError) as error:
        raise Trouble(f"The chart can't be saved as {file}: {error}. Give a name that ends in .png or .svg.") from None
