"""One visit as a chain of decisions: inputs, facts, the fold, the journal's lines. Never imports `procedure`."""
