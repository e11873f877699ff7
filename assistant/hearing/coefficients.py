"""What the judgement learnt. Made by `python -m tests.bench.fit_judgement --write`; do not edit by hand."""

MEANS = (2.0, 8.0, -1.0, 1.0, 0.0)
SCALES = (3.0, 6.0, 1.0, 1.5, 1.0)
WEIGHTS = (-1.5, 1.0, 0.7, 0.7, -0.3)
INTERCEPT = 1.0
ACCEPT = {"command": 0.7, "reading": 0.8, "hold": 0.9}
IGNORE = 0.05
