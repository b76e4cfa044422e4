"""The proof that a blank stands where its log says."""

from __future__ import annotations

from collections.abc import Iterator

from boards.models import Blank, replay


def troubles(blank: Blank) -> Iterator[str]:
    """Say in what a blank and its log do not agree."""
    entries = sorted(blank.log.all(), key=lambda entry: entry.number)
    if [entry.number for entry in entries] != list(range(1, len(entries) + 1)):
        yield f"its log has the entries {', '.join(str(entry.number) for entry in entries) or 'none'}; some are missing"
        return
    if blank.version != len(entries):
        yield f"its version is {blank.version}, its log has {len(entries)} entries"
    try:
        state, _ = replay(entries)
    except ValueError as error:
        yield f"its log cannot be followed: {error}"
        return
    for name in ("build_id", "pattern_id", "stages", "done", "condition"):
        kept, said = getattr(blank.state, name), getattr(state, name)
        if kept != said:
            yield f"{name} is {kept}, its log says {said}"
    if blank.in_rack != state.in_rack:
        yield f"in_rack is {blank.in_rack}, its log says {state.in_rack}"
    if blank.next_stage != state.next_stage:
        yield f"next_stage is {blank.next_stage or 'none'}, its log says {state.next_stage or 'none'}"
