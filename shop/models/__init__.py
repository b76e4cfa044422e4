"""What the shop knows about itself."""

from shop.models.buildlog import BuildEntry, BuildKind
from shop.models.builds import Build, BuildState, NeckJoint, Pattern
from shop.models.daily import DailyJob
from shop.models.hours import DayOff, Week
from shop.models.jigs import Former, Jig, JigTest
from shop.models.kit import Cutter, FretWire, Route, SandingBlock, Species
from shop.models.label_sheets import LabelSheet
from shop.models.people import AccountEntry, Role, User
from shop.models.shop import Lengths, Paper, Series, Shop
from shop.models.spec import RadiusBy, Spec
from shop.models.tablets import Tablet
from shop.models.taps import Changed, Hand, Refused, Tap, TapElsewhere, TapWithOther, once
from shop.models.tries import Tries

__all__ = [
    "AccountEntry",
    "Build",
    "BuildEntry",
    "BuildKind",
    "BuildState",
    "Changed",
    "Cutter",
    "DailyJob",
    "DayOff",
    "Former",
    "FretWire",
    "Hand",
    "Jig",
    "JigTest",
    "LabelSheet",
    "Lengths",
    "NeckJoint",
    "Paper",
    "Pattern",
    "RadiusBy",
    "Refused",
    "Role",
    "Route",
    "SandingBlock",
    "Series",
    "Shop",
    "Spec",
    "Species",
    "Tablet",
    "Tap",
    "TapElsewhere",
    "TapWithOther",
    "Tries",
    "User",
    "Week",
    "once",
]
