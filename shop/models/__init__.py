"""What the shop knows about itself."""

from shop.models.people import User

__all__ = ["User"]
