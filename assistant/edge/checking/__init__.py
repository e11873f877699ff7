"""The one gate: everything that is wrong in a model's or a language's files, with file, line and column."""
