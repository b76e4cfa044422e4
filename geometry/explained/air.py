"""Where the wood's moisture is heading, and how far it moves with the seasons."""

from __future__ import annotations

from geometry.explained.sheet import HANDBOOK, Sheet, figure

AIR = "Wood and air"
CUTS = {"quarter": "radial, as it is quartersawn", "flat": "tangential, as it is flatsawn"}


def moisture(s: Sheet, mark: str, humidity: float, words: str, source: str) -> None:
    """Work out the moisture that wood comes to in air of some humidity, by the handbook: ``M`` with a mark."""
    h = s.take(f"H_{mark}", humidity, f"Humidity {words}", source, "percent")
    s.take("T", s.asked.climate.temperature_c, "Temperature", "air", "celsius")
    s.step("w", "349 + 1.29 * T + 0.0135 * T ** 2", "By the handbook's equation", "number")
    s.step("K", "0.805 + 0.000736 * T - 0.00000273 * T ** 2", "", "number")
    s.step("K_1", "6.27 - 0.00938 * T - 0.000303 * T ** 2", "", "number")
    s.step("K_2", "1.91 + 0.0407 * T - 0.000293 * T ** 2", "", "number")
    a = f"a_{mark}"
    s.step(a, f"K * H_{mark} / 100", f"Humidity {words}, times K", "number")
    s.step(f"M_{mark}",
           f"1800 / w * ({a} / (1 - {a}) + (K_1 * {a} + 2 * K_1 * K_2 * {a} ** 2) / "
           f"(1 + K_1 * {a} + K_1 * K_2 * {a} ** 2))",
           f"Moisture that the wood comes to at {h:g} %", "percent")  # fmt: skip


@figure("emc", "Moisture the air leads to", AIR, "To which moisture does wood come in the shop's air?",
        lambda r, n: r.climate.emc if r.climate else None, "percent")  # fmt: skip
def _emc(s: Sheet, _: int) -> None:
    moisture(s, "s", s.asked.climate.humidity, "in the shop", "air")
    s.source = f"{HANDBOOK} (2010), chapter 4: the equation behind its table 4-2, for degrees Celsius."
    s.method = "Within 0.06 % of the handbook's own table. For a workshop it is a guide."


@figure("season", "Through the year, heel", AIR, "How much wider is the heel in the damp season than in the dry?",
        lambda r, n: r.climate.season_change if r.climate else None, "fine")  # fmt: skip
def _season(s: Sheet, _: int) -> None:
    climate = s.asked.climate
    s.take("W", s.asked.board.heel_width, "Width at the heel", "spec")
    if climate.grain in CUTS:
        value = climate.c_radial if climate.grain == "quarter" else climate.c_tangential
        s.take("C", value, f"Movement for each percent, {CUTS[climate.grain]}", "wood", "number")
    else:
        s.take("C_r", climate.c_radial, "Movement for each percent, radial", "wood", "number")
        s.take("C_t", climate.c_tangential, "Movement for each percent, tangential", "wood", "number")
        s.step("C", "(C_r + C_t) / 2", "A rift board lies halfway: the handbook has no formula", "number")
    moisture(s, "1", climate.season_low, "in the dry season", "habits")
    moisture(s, "2", climate.season_high, "in the damp season", "habits")
    s.step("m", "W * C * (M_2 - M_1)", "Width, times movement, times the change of moisture", "fine")
    s.source = f"{HANDBOOK} (2010), chapter 13, equation 13-2; moistures by chapter 4."
    s.method = "The coefficients hold from 6 to 14 % moisture."
