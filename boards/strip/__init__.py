"""The strip: a blank drawn to scale in the state that its log says it is in. The drawing is the status.

A rectangle as it came in; hatched ends once thicknessed; fret lines once slotted; an end view with the curve once
radiused; the outline once tapered; on a dark neck once glued. Held, a tie crosses it; scrapped, it is broken in two.
"""

from boards.strip.drawing import Size, draw_strip
from boards.strip.state import StripBoard, StripState, words_for

__all__ = ["Size", "StripBoard", "StripState", "draw_strip", "words_for"]
