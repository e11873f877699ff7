"""How sure a count is: Wilson's interval of a share, the exact upper bound of a rate.

Knows arithmetic only. Refuses to know what was counted.
"""

from __future__ import annotations

from math import exp, sqrt

_Z = 1.959964


def wilson(hits: int, count: int) -> tuple[float, float]:
    """The 95 % interval of a share, both ends 0 to 1; (0, 1) when nothing was counted.

    Source: E. B. Wilson, J. Am. Stat. Assoc. 22 (1927).
    """
    if count == 0:
        return 0.0, 1.0
    share = hits / count
    middle = (share + _Z**2 / (2 * count)) / (1 + _Z**2 / count)
    half = _Z * sqrt(share * (1 - share) / count + _Z**2 / (4 * count**2)) / (1 + _Z**2 / count)
    # Rounding may put an end a hair inside the share.
    return max(0.0, min(middle - half, share)), min(1.0, max(middle + half, share))


def max_rate_an_hour(events: int, hours: float, sure: float = 0.95) -> float:
    """The exact upper bound of a rate: events an hour that would give so few only once in twenty such runs.

    Infinite when no time went by. Source: the Poisson distribution (Garwood 1936), by bisection.
    """
    if hours <= 0:
        return float("inf")
    low, high = 0.0, 10.0 + 3 * events
    for _ in range(60):
        mean = (low + high) / 2
        term = total = exp(-mean)
        for number in range(1, events + 1):
            term *= mean / number
            total += term
        low, high = (mean, high) if total > 1 - sure else (low, mean)
    return high / hours
