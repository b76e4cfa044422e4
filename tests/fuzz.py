"""What is thrown at forms and at the JSON service, and how much of it.

An ordinary run throws a part of it, so that it stays short; CAMBERBOOK_TESTS_FUZZ=10000 throws as many in all.
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

IN_ALL = int(os.environ.get("CAMBERBOOK_TESTS_FUZZ", "600"))


def cases(share: float) -> settings:
    """Take a share of all cases. They are the same on every run."""
    return settings(
        max_examples=max(1, round(IN_ALL * share)),
        derandomize=True,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )


NASTY = [
    *("", " ", "\x00", "a\x00b", "\r\n", "\u202e\u2066", "\U0001f3b8" * 40, "x" * 5000, "ß" * 200, "e\u0301" * 100),
    *(
        "<script>alert(1)</script>",
        "{{ x }}{% include 'base.html' %}",
        "'; DROP TABLE boards_blank; --",
        "%s%n",
        "../../x",
    ),
    *("=1+1", "@SUM(A1)", "\\", '"', "None", "null", "True", "on", "[]", "{}", "\ufeff1", "٣", "½", "\udc80"),
    *("0", "-0", "-1", "1", "1.5", "1,5", "1e400", "-1e400", "1e-400", "nan", "NaN", "inf", "-Infinity", "9" * 400),
    *(
        "1/0",
        "25 1/0 in",
        "1/64 in",
        "99999999999999999999 mm",
        "1_000",
        "0x10",
        "1e5",
        "2147483648",
        "9223372036854775808",
    ),
    *("2024-02-30", "0000-01-01", "9999-12-31", "10000-01-01", "2024-13-01", "24:60", "2024-06-01T25:00"),
    *("build:1", "build:99999999999999999999", "pattern:\x00", "F0001", "F0001:1:B001:1", "thicknessing", "::::"),
]
texts = st.one_of(
    st.sampled_from(NASTY),
    st.text(max_size=80),
    st.floats().map(repr),
    st.integers().map(str),
    st.dates().map(str),
    st.from_regex(r"-?[0-9]{1,6}( [0-9]{1,2}/[0-9]{1,2})? ?(in|mm|\")?", fullmatch=True),
)
