"""Where code and words stand on a label, whatever they are and however small it is."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boards.label_layout import (
    LEAST_MODULE,
    LEAST_NUMBER,
    LEAST_TYPE,
    LINE,
    PT,
    RISE,
    LabelTooSmall,
    Layout,
    Words,
    lay_out,
)
from boards.qr import encode
from shop.drawings.letters import width_in_em


def wrong_with(layout: Layout, width: float, height: float, modules: int) -> list[str]:
    """What of a layout lies on something else or beyond the label, or is too small to be read."""
    side, near = layout.module * modules, 1e-6
    boxes = [("the code", layout.code_x, layout.code_y, layout.code_x + side, layout.code_y + side)]
    for line in layout.lines:
        wide, top = width_in_em(line.words, line.weight) * line.height, line.y - RISE * line.height
        boxes.append((line.words, line.x, top, line.x + wide, top + LINE * line.height))
    wrong = [
        f"{name} is beyond the label"
        for name, left, top, right, bottom in boxes
        if left < -near or top < -near or right > width + near or bottom > height + near
    ]
    for k, (name, left, top, right, bottom) in enumerate(boxes):
        for other, x0, y0, x1, y1 in boxes[k + 1 :]:
            if min(right, x1) - max(left, x0) > near and min(bottom, y1) - max(top, y0) > near:
                wrong.append(f"{name} lies on {other}")
    number, *others = (line.height / PT for line in layout.lines)
    wrong += ["the number is too small"] * (number < LEAST_NUMBER - near)
    wrong += ["words are too small"] * any(height < LEAST_TYPE - near for height in others)
    wrong += ["the code is too fine"] * (layout.module < LEAST_MODULE)
    return wrong


LONGEST = Words(
    "F2026-000123-WALL-NORTH1",
    "Macassar ebony of the second cutting, stored in old house",
    "20 53/64 × 2 3/4 × 21/64 in",
    "Came in 22 Mar 2026",
)


def test_the_longest_names_are_dropped_line_by_line_and_never_overlap() -> None:
    said = []
    for width, height in ((99.1, 67.7), (99.1, 38.1), (66.7, 25.4), (57, 25), (54, 20)):
        modules = encode(f"http://192.168.1.20:8000/blanks/{LONGEST.number}/").modules
        layout = lay_out(LONGEST, width, height, modules)
        assert wrong_with(layout, width, height, modules) == []
        assert layout.lines[0].words == LONGEST.number
        said.append(len(layout.lines))
    assert said[0] >= 4 and said == sorted(said, reverse=True) and said[-1] < 4


numbers = st.text("ABFW0123456789-", min_size=1, max_size=24)
texts = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=60)


@given(
    st.builds(Words, number=numbers, species=texts, size=texts, received=texts),
    st.floats(11, 150),
    st.floats(11, 150),
    st.sampled_from([33, 37, 41, 45]),
)
def test_nothing_ever_overlaps_or_comes_out_too_small(words: Words, width: float, height: float, modules: int) -> None:
    try:
        layout = lay_out(words, width, height, modules)
    except LabelTooSmall:
        return
    assert wrong_with(layout, width, height, modules) == []
    assert layout.lines[0].words == words.number


def test_the_least_that_matters_goes_first() -> None:
    words = Words("F0012", "Pear, steamed", "530.0 × 70.00 × 8.50 mm", "Came in 2 Mar 2026")
    kept = [{line.words for line in lay_out(words, width, height, 37).lines} for width, height in ((60, 30), (25, 25))]
    assert kept[0] == {words.number, words.species, words.size, words.received}
    assert words.number in kept[1] and words.species in kept[1] and words.received not in kept[1]
    with pytest.raises(LabelTooSmall):
        lay_out(words, 15, 15, 37)
