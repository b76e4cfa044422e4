"""What the two formers chosen cut, and which pair would cut the board exactly."""

from __future__ import annotations

from geometry.explained.blank import take_blank_length
from geometry.explained.fretboard import take_length
from geometry.explained.sheet import OWN, Sheet, figure
from geometry.explained.thickness import take_after
from geometry.request import Former
from geometry.result import Result

JIG = "The jig"
CHOSEN = (
    "Every pair in the rack is tried, either way about, and every place along the bed at which the whole blank lies on "
    "it. The pair and the place count whose surface is off least, over the middle and the edge of both ends; where the "
    "place is free, the board comes out as much too round at one end as too flat at the other."
)


def _setup(value: str) -> object:
    return lambda r, n: getattr(r.setup, value) if r.setup else None


def _curved_setup(value: str) -> object:
    return lambda r, n: getattr(r.setup, value) if r.setup and r.board.frets[0].radius is not None else None


def _former(s: Sheet, end: str) -> Former:
    name = getattr(s.found.setup, f"{end}_former")
    return next(former for former in s.asked.formers if former.name == name)


def _take_rails(s: Sheet) -> None:
    jig = s.asked.jig
    s.take("g", jig.rail_spacing, "Rails, from axis to axis", "jig")
    s.take("d", jig.rail_diameter, "Thickness of a rail", "jig")


def _formers(s: Sheet) -> None:
    """Work out the height of the rails over each former's centre, and from end to end: ``m``."""
    jig = s.asked.jig
    _take_rails(s)
    s.take("S", jig.span, "Span, from former to former", "jig")
    for end, mark in (("head", "1"), ("heel", "2")):
        former = _former(s, end)
        where = f"former:{former.name}"
        s.take(f"F_{mark}", former.radius, f"Arc of former {former.name}, at the {end}", where)
        s.take(f"H_{mark}", former.apex, f"Apex of former {former.name} above the bed", where)
        s.step(f"rho_{mark}", f"sqrt((F_{mark} + d / 2) ** 2 - (g / 2) ** 2)",
               f"From the arc's centre to the rails, at the {end}")  # fmt: skip
    s.step("m", "((H_2 - F_2 + rho_2) - (H_1 - F_1 + rho_1)) / S", "The rails rise by this for each mm", "number")


def _apex(s: Sheet) -> None:
    jig = s.asked.jig
    s.take("z_r", jig.riser, "Riser", "jig")
    s.take("z_p", jig.packing, "Packing under the board", "jig")
    take_after(s)
    s.step("A", "z_r + z_p + t_a", "The apex above the bed, at the board's middle")


@figure("nut-at", "Nut at, along the bed", JIG, "Where along the bed does the nut lie?", _setup("nut_at"))
def _nut_at(s: Sheet, _: int) -> None:
    jig = s.asked.jig
    take_length(s)
    s.take("S", jig.span, "Span, from former to former", "jig")
    s.take("y", jig.end_clearance, "Kept clear at each end of the bed", "jig")
    take_blank_length(s)
    s.take("e", s.asked.allowances.end, "Run-out at each end", "allowance")
    s.take("x_0", s.found.board.length - s.found.board.overall, "The board's head end, from the nut face",
           "figure:overall")  # fmt: skip
    s.step("u_1", "y - (x_0 - e)", "The first place: the blank's head end just clear")
    s.step("u_2", "S - y - (x_0 - e + l)", "The last place: its heel end just clear")
    s.step("u_m", "(S - B) / 2", "The middle of the bed")
    s.method, place = CHOSEN, s.found.setup.nut_at
    if abs(place - s.steps["u_m"].value) < 1e-9:
        s.step("u_n", "u_m", "Any place would cut alike: the middle")
        return
    for symbol, words in (("u_1", "The best place would be off the bed: the first"),
                          ("u_2", "The best place would be off the bed: the last")):  # fmt: skip
        if abs(place - s.steps[symbol].value) < 1e-9:
            s.step("u_n", symbol, words)
            return
    _formers(s)
    _apex(s)
    s.take("C_n", s.found.setup.nut_radius, "Radius that is best at the nut, from the search",
           "figure:jig-nut-radius")  # fmt: skip
    s.step("u_n", "(C_n - (F_1 - H_1 + A - m * B / 2)) / (((F_2 - H_2) - (F_1 - H_1)) / S)",
           "The place at which the formers cut that radius at the nut")  # fmt: skip


@figure("jig-nut-radius", "Radius cut at the nut", JIG, "Which radius do the formers cut at the nut?",
        _curved_setup("nut_radius"))  # fmt: skip
def _nut_radius(s: Sheet, _: int) -> None:
    _cut(s)


def _cut(s: Sheet) -> None:
    take_length(s)
    s.take("u_n", s.found.setup.nut_at, "The nut, along the bed", "figure:nut-at")
    _formers(s)
    _apex(s)
    s.step("C_n", "F_1 - H_1 + A - m * B / 2 + ((F_2 - H_2) - (F_1 - H_1)) / S * u_n", "Radius cut at the nut")
    s.source = OWN


@figure("jig-heel-radius", "Radius cut at the heel", JIG, "Which radius do the formers cut at the heel?",
        _curved_setup("heel_radius"))  # fmt: skip
def _heel_radius(s: Sheet, _: int) -> None:
    _cut(s)
    s.step("C_h", "C_n + (((F_2 - H_2) - (F_1 - H_1)) / S + m) * B", "Radius cut at the heel")


@figure("edge-error", "Edge off by", JIG, "How far off is the edge with these formers?",
        _curved_setup("edge_error"), "fine")  # fmt: skip
def _edge_error(s: Sheet, _: int) -> None:
    board, setup = s.asked.board, s.found.setup
    s.take("C_n", setup.nut_radius, "Radius cut at the nut", "figure:jig-nut-radius")
    s.take("C_h", setup.heel_radius, "Radius cut at the heel", "figure:jig-heel-radius")
    s.take("R_n", board.radius.nut, "Radius wanted at the nut", "spec")
    s.take("R_h", board.radius.heel, "Radius wanted at the heel", "spec")
    s.take("W_n", board.nut_width, "Width at the nut", "spec")
    s.take("W_h", board.heel_width, "Width at the heel", "spec")
    for mark, end in (("n", "nut"), ("h", "heel")):
        s.step(f"e_{mark}", f"C_{mark} - sqrt(C_{mark} ** 2 - (W_{mark} / 2) ** 2) - "
               f"(R_{mark} - sqrt(R_{mark} ** 2 - (W_{mark} / 2) ** 2))",
               f"Sagitta cut less sagitta wanted, at the {end}", "fine")  # fmt: skip
    s.step("e", "max(abs(e_n), abs(e_h))", "The worse of the two ends", "fine")


@figure("drift", "Apex drift", JIG, "How much higher is the apex at the heel than at the nut?",
        _setup("apex_drift"), "fine")  # fmt: skip
def _drift(s: Sheet, _: int) -> None:
    take_length(s)
    _formers(s)
    s.step("D", "m * B", "Over the length of the board", "fine")
    s.method = "Formers of unlike radius and equal height do not give a level apex: the rails rise from end to end."


def _to_make(found: Result, place: int) -> object:
    return found.formers_to_make[place] if found.formers_to_make else None


def _exact(end: str, place: int) -> None:
    def _below(s: Sheet) -> None:
        jig, radius = s.asked.jig, s.asked.board.radius
        take_length(s)
        _take_rails(s)
        _apex(s)
        s.take("Z", jig.rail_plane, "Rail plane above the bed", "jig")
        s.take("S", jig.span, "Span, from former to former", "jig")
        s.take("R_n", radius.nut, "Radius at the nut", "spec")
        s.take("R_h", radius.heel, "Radius at the heel", "spec")
        s.step("u_n", "(S - B) / 2", "The nut, along the bed")
        s.step("k", "Z - A", "The cutter hangs this far below the rails")
        run = "-u_n" if place == 0 else "(S - u_n)"
        s.step("R", f"R_n + (R_h - R_n) / B * {run}", "The board's radius, carried on to the former")
        s.step("F", "sqrt((R + k) ** 2 + (g / 2) ** 2) - d / 2", "Arc of the former")

    @figure(f"make-{end}-radius", f"Exact former, {end}: arc", JIG,
            f"Which arc would the exact former for the {end} have?",
            lambda r, n: _to_make(r, place).radius if _to_make(r, place) else None)  # fmt: skip
    def _arc(s: Sheet, _: int) -> None:
        _below(s)

    @figure(
        f"make-{end}-apex",
        f"Exact former, {end}: apex",
        JIG,
        f"How high would the exact former for the {end} stand?",
        lambda r, n: made.apex if (made := _to_make(r, place)) and made.radius else None,
    )
    def _height(s: Sheet, _: int) -> None:
        _below(s)
        s.step("H", "Z + F - (R + k)", "Its apex above the bed")


_exact("head", 0)
_exact("heel", 1)
