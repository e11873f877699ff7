"""Speech engines, one file each; all of them pass the same contract tests."""
