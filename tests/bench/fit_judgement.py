"""Fits the judgement on the tuning side of the bench, and reports it on the side that was held out.

    enginebay bench hearing --out FOLDER   # both sides: the parts commands, readings, hold, talk, tuning
    python -m tests.bench.fit_judgement FOLDER [--write FILE]

One calibrated probability and one operating point each for command, reading and hold, fitted on voices of espeak-ng in
noise of the tuning side (FOLDER/judgement-tuning.npz). Reported on flite and held-out noise: what is accepted, and a
reliability plot (FOLDER/reliability.png). `--write` writes the coefficients to a file; the program's are at
assistant/hearing/coefficients.py.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from assistant.hearing.judgement import FEATURES
from assistant.rehearsal.measuring.intervals import wilson
from assistant.rehearsal.measuring.judged import Fitted, Hearings, fit, hearings, load, reliability, save
from assistant.rehearsal.measuring.report import read_rows

HELD_OUT = ("commands", "readings", "hold", "talk")


def sides(folder: Path) -> tuple[Hearings, Hearings]:
    """The tuning side and the held-out side, from the bench's rows or from files that were saved before."""
    places = folder / "judgement-tuning.npz", folder / "judgement-held-out.npz"
    rows = read_rows(folder)
    if "tuning" in rows:
        save(places[0], hearings(rows["tuning"]))
        save(places[1], hearings(row for part in HELD_OUT for row in rows.get(part, [])))
    return load(places[0]), load(places[1])


def told(fitted: Fitted, found: Hearings) -> list[str]:
    """What the operating points let through, by kind and ratio."""
    accepted = fitted.accepted(found)
    lines = [f"{'':12}{'noise':>12}{'number':>8}{'accepted right':>26}{'accepted wrong':>26}"]
    for kind in dict.fromkeys(found.kind.tolist()):
        for snr in dict.fromkeys(found.snr[found.kind == kind].tolist()):
            here = (found.kind == kind) & (found.snr == snr)
            count = int(here.sum())
            cells = []
            for hits in (int((accepted & found.right & here).sum()), int((accepted & ~found.right & here).sum())):
                low, high = wilson(hits, count)
                cells.append(f"{100 * hits / count:.2f} % ({100 * low:.2f} to {100 * high:.2f})")
            lines.append(f"{kind:12}{snr:>12}{count:>8}{cells[0]:>26}{cells[1]:>26}")
    return lines


def plot(fitted: Fitted, found: Hearings, path: Path) -> None:
    """How often what was believed so much was right, on the held-out side."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    chance = fitted.chance(found)
    figure, axis = pyplot.subplots(figsize=(5, 5))
    axis.plot([0, 1], [0, 1], color="grey", linewidth=0.8)
    for risk, point in fitted.points.items():
        here = found.risk == risk
        bins = reliability(chance[here], found.right[here])
        axis.plot([b[0] for b in bins], [b[1] for b in bins], marker="o", label=f"{risk}, {int(here.sum())} hearings")
        axis.axvline(point.accept, linestyle=":", linewidth=0.8, color=axis.lines[-1].get_color())
    axis.set_xlabel("believed")
    axis.set_ylabel("share right, held-out voices and noise")
    axis.legend(loc="upper left")
    figure.tight_layout()
    figure.savefig(path, dpi=110)


def coefficients(fitted: Fitted) -> str:
    """The module that the judgement would read."""

    def numbers(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> str:
        return "(" + ", ".join(f"{value:.4f}" for value in values) + ")"

    points = fitted.points.items()
    lines = [
        '"""What the judgement learnt. Made by `python -m tests.bench.fit_judgement FOLDER --write FILE`; no hand."""',
        "",
        f"MEANS = {numbers(fitted.means)}",
        f"SCALES = {numbers(fitted.scales)}",
        "WEIGHTS = {",
        *(f'    "{risk}": {numbers(point.weights)},' for risk, point in points),
        "}",
        "INTERCEPT = {" + ", ".join(f'"{risk}": {point.intercept:.4f}' for risk, point in points) + "}",
        "ACCEPT = {" + ", ".join(f'"{risk}": {point.accept:.3f}' for risk, point in points) + "}",
        "IGNORE = 0.0500",
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--write", type=Path, metavar="FILE")
    options = parser.parse_args()
    tuning, held_out = sides(options.folder)
    fitted = fit(tuning)
    chance = fitted.chance(held_out)
    brier = float(np.mean((chance - held_out.right) ** 2))
    base = float(held_out.right.mean() * (1 - held_out.right.mean()))
    print(f"fitted on {len(tuning)} hearings, reported on {len(held_out)}")
    print(f"squared error {brier:.4f}, of a constant {base:.4f}")
    for risk, point in fitted.points.items():
        weights = ", ".join(f"{name} {weight:+.2f}" for name, weight in zip(FEATURES, point.weights, strict=True))
        print(f"{risk}: accept from {point.accept:.3f}; {weights}")
    print("tuning side:", *told(fitted, tuning), "held-out side:", *told(fitted, held_out), sep="\n")
    plot(fitted, held_out, options.folder / "reliability.png")
    print(coefficients(fitted))
    if options.write:
        options.write.write_text(coefficients(fitted), encoding="utf-8")


if __name__ == "__main__":
    main()
