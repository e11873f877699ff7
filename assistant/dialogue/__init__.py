"""The dialogue: `decide(work, visit, envelope) -> decision`. No clock, no file, no thread, no sound."""
