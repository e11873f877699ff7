"""What the judgement learnt. Made by `python -m tests.bench.fit_judgement --write`; not edited by hand."""

MEANS = (6.8496, 4.0505, -2.3755, -0.2083, 0.0100, 4.0686, 1.9527, 2.0024)
SCALES = (5.6950, 3.2533, 1.3853, 1.5914, 0.0997, 2.1045, 0.8914, 2.7397)
WEIGHTS = (-0.2295, 0.8823, 0.2488, 3.7774, 0.0996, -0.0021, -0.1003, -0.3385)
INTERCEPT = -0.8279
ACCEPT = {"command": 0.626, "reading": 0.718, "hold": 0.958}
IGNORE = 0.0500
