"""What passes through the shop: blanks, benches, travellers."""

from django.apps import AppConfig
from django.db.models.signals import post_save


class BoardsConfig(AppConfig):
    """Boards."""

    name = "boards"
    label = "boards"
    verbose_name = "Boards"

    def ready(self) -> None:
        """Sum readings up anew when the shop's habits ask for it, and say what is done once a day."""
        from boards import chores
        from boards.models.moisture import sum_up_anew
        from shop.models import Shop

        def anew(instance: Shop, **_: object) -> None:
            sum_up_anew(instance)

        chores.register()
        post_save.connect(anew, sender=Shop, weak=False, dispatch_uid="moisture over other days")
