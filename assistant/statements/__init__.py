"""What the program itself states, and keeps or speaks: a kind and typed arguments, never words.

A statement is a reason, a caveat, a doubt or a finding. Its kind is a stable string: journals hold it, and the words
stand under it in `grammars/<language>/wording.yaml`. Where a text may stand instead of a statement, it is one that the
program did not word: a person's, a procedure's, or that of an old journal. One file a topic, each with its union;
`kinds.py` has them all, and users write `from assistant.statements import kinds as s`. Refuses to know words, and what
a statement is used for.
"""
