"""Adapting the bundled speech encoder to noise, by self-distillation; done once, beside the assistant.

The frozen encoder hears clean speech, a student hears the same speech in noise and learns the frozen one's output. No
text is needed and the decoder stays as it is. In order: `speech` gathers and renders what is heard, `train` learns on
one GPU, `export` mixes the weights and writes the int8 file that the package carries. Needs the extra `adapt`.
"""
