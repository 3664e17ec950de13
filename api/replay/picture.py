"""The calibration curve as a picture: ink on paper, one accent."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from matplotlib.figure import Figure

from api.replay.report import bins_of

__all__ = ["draw_calibration"]

INK, PAPER, ACCENT, STOP = "#16202a", "#f6f2ea", "#0b5f6e", "#7a1f5c"


def draw_calibration(document: dict[str, Any], path: Path) -> None:
    """Write the calibration curves of a replay as a PNG file.

    Parameters
    ----------
    document : as `report_document` makes it, with at least one counted car
    path : where to; an existing file is replaced
    """
    figure = Figure(figsize=(7.0, 7.0), facecolor=PAPER)
    axes = figure.add_subplot(facecolor=PAPER)
    axes.plot([0, 1], [0, 1], color=INK, linewidth=0.8, linestyle=":")
    curves = (
        ("present", "is it there?", ACCENT, "o"),
        ("true_cause", "has it a part in the complaint?", STOP, "s"),
    )
    for key, words, colour, marker in curves:
        scores = document["calibration"][key]
        bins = bins_of(scores)
        axes.errorbar(
            [entry.forecast for entry in bins],
            [entry.observed for entry in bins],
            yerr=[entry.error for entry in bins],
            color=colour,
            marker=marker,
            capsize=3,
            label=f"{words}  Brier {scores['brier']:.4f}",
        )
    axes.set(
        xlim=(0, 1),
        ylim=(0, 1),
        aspect="equal",
        xlabel="forecast at intake",
        ylabel="share that came true",
        title=f"Calibration on {document['counted']} cars simulated from the model itself",
    )
    axes.legend(frameon=False, loc="upper left")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    figure.savefig(path, format="png", dpi=120)
