"""Sentences for codes: findings, events and troubles carry a code and values, the words are made here.

Each room keeps its sentences in `en/<room>.toml`: a table per code, with `say` and, where a technician
can do something about it, `do`. `{name}` stands for a value; how it is written follows from the
ending of its name or from the finding's unit. A second language is a second folder.
"""

from shipworthy.messages.sentences import Sentence, finding_sentence, finding_words, known_codes, sentence
from shipworthy.messages.text import line_text, quantity_text, scalar_text

__all__ = [
    "Sentence",
    "finding_sentence",
    "finding_words",
    "known_codes",
    "line_text",
    "quantity_text",
    "scalar_text",
    "sentence",
]
