"""What the judgement learnt. Made by `python -m tests.bench.fit_judgement FOLDER --write FILE`; no hand."""

MEANS = (3.7643, 6.3048, -1.3502, 1.0433, 0.0021, 4.7242, 2.7741, 0.8209)
SCALES = (5.0596, 2.7444, 1.3322, 1.4482, 0.0457, 1.9065, 0.8527, 2.2323)
WEIGHTS = {
    "command": (0.0000, 0.8106, 0.8370, 3.6351, -0.0194, -0.4545, -0.0740, -0.4058),
    "reading": (0.0000, 1.0990, 0.8573, 2.3741, 0.0129, -0.7189, 0.2386, 0.0205),
    "hold": (0.0000, 0.6399, 0.4141, 2.8995, 0.0556, -0.7346, 0.2212, 0.0061),
}
INTERCEPT = {"command": 2.4465, "reading": 3.4183, "hold": 5.4498}
ACCEPT = {"command": 0.715, "reading": 0.798, "hold": 0.985}
IGNORE = 0.0500
