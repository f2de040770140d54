"""RFC 8785 (JSON Canonicalization Scheme), sections 3.2.2 and 3.2.3.

Inputs and outputs are the RFC's own, read in secondary copies of it. Length and SHA-256 of the first
were computed from that output and stand in tests/derived.
"""

from __future__ import annotations

import json

from pollstead.election.canonical import canonical_bytes

# RFC 8785 section 3.2.2, the sample input, as JSON text: it is parsed, never retyped as Python.
SAMPLE_3_2_2 = (
    rb'{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],'
    rb'"string":"\u20ac$\u000F\u000aA' + b"'" + rb'\u0042\u0022\u005c\\\"\/","literals":[null,true,false]}'
)
# RFC 8785 section 3.2.3 / 3.2.4, the same sample in canonical form.
CANONICAL_3_2_2 = (
    '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
    '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
)


def test_sample_of_section_3_2_2_gives_the_printed_text() -> None:
    """The sample object of RFC 8785 3.2.2 becomes the text that the RFC prints."""
    assert canonical_bytes(json.loads(SAMPLE_3_2_2)) == CANONICAL_3_2_2.encode("utf-8")


# RFC 8785 section 3.2.3, the document that shows the order of keys, as JSON text.
KEYS_3_2_3 = (
    rb'{"\u20ac":"Euro Sign","\r":"Carriage Return","\ufb33":"Hebrew Letter Dalet With Dagesh",'
    rb'"1":"One","\ud83d\ude00":"Emoji: Grinning Face","\u0080":"Control",'
    rb'"\u00f6":"Latin Small Letter O With Diaeresis"}'
)
ORDER_3_2_3 = [
    "Carriage Return",
    "One",
    "Control",
    "Latin Small Letter O With Diaeresis",
    "Euro Sign",
    "Emoji: Grinning Face",
    "Hebrew Letter Dalet With Dagesh",
]


def test_keys_of_section_3_2_3_stand_in_the_printed_order() -> None:
    """Keys are sorted by UTF-16 code units: the emoji's surrogates come before U+FB33."""
    text = canonical_bytes(json.loads(KEYS_3_2_3))
    assert [value for _, value in json.loads(text, object_pairs_hook=list)] == ORDER_3_2_3
