"""Names of files that are sent are made fit for any system; nothing is written elsewhere.

Reserved names and signs: Microsoft, "Naming Files, Paths, and Namespaces" (from memory).
"""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.web.uploads import NAME_BYTES, free_name, safe_name


@pytest.mark.parametrize(
    ("given_name", "safe"),
    [
        ("sign.svg", "sign.svg"),
        ("../../etc/passwd.svg", "passwd.svg"),
        ("C:\\Users\\me\\sign.DXF", "sign.dxf"),
        ("CON.svg", "drawing CON.svg"),
        ("com1.txt.svg", "drawing com1.txt.svg"),
        ("lpt\u00b9.svg", "drawing lpt\u00b9.svg"),
        ("a\x00b\nc.svg", "abc.svg"),
        ("gvs.\u202egolon.svg", "gvs.golon.svg"),
        ('what?<a>"b"|*:.svg', "what--a--b----.svg"),
        ("...", "drawing"),
        ("", "drawing"),
        ("-rf.svg", "rf.svg"),
        ("sign.svg. .", "sign.svg"),
        ("Tu\u0308r.svg", "T\u00fcr.svg"),
    ],
)
def test_a_name_is_made_safe(given_name: str, safe: str) -> None:
    assert safe_name(given_name) == safe


@given(st.text(max_size=400))
def test_every_name_is_safe(given_name: str) -> None:
    name = safe_name(given_name)
    assert name
    assert len(name.encode()) <= NAME_BYTES
    assert not set(name) & set('/\\<>:"|?*')
    assert not any(unicodedata.category(sign).startswith("C") for sign in name)
    assert name[0] not in " .-"
    assert name[-1] not in " ."
    assert safe_name(name) == name


def test_names_that_differ_in_capitals_only_are_told_apart() -> None:
    assert free_name("Sign.svg", ["sign.SVG", "sign-2.svg"]) == "Sign-3.svg"
