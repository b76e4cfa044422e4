"""The admin pages, for owners: fret wires, routes and number series, which have no page of their own yet.

People are not among them: their page is `shop/accounts.py`, where no password is shown, nobody is deleted whose name
stands in a log, and an owner always stays.
"""

from __future__ import annotations

from django import forms
from django.contrib import admin
from django.db import models
from django.db.models import F
from django.http import HttpRequest

from shop.fields import LengthField
from shop.models import Cutter, FretWire, Route, Series, Shop, Species
from shop.stages import STAGES

admin.site.site_header = "Camberbook"
admin.site.site_title = "Camberbook"
admin.site.index_title = "Kit"


class KitAdmin(admin.ModelAdmin):
    """Lengths are typed in the shop's unit, as everywhere."""

    def formfield_for_dbfield(self, db_field: models.Field, request: HttpRequest, **kwargs: object) -> forms.Field:
        """Let length boxes read a bare number in the shop's unit."""
        field = super().formfield_for_dbfield(db_field, request, **kwargs)
        if isinstance(db_field, LengthField):
            field.style = Shop.current().style
            field.allow_zero = False
        return field


@admin.register(FretWire)
class FretWireAdmin(KitAdmin):
    """Fret wires."""

    list_display = ("name", "tang", "kerf")


@admin.register(Cutter)
class CutterAdmin(KitAdmin):
    """Cutters."""

    list_display = ("name", "diameter", "max_depth")
    exclude = ("minutes_since_sharpening",)  # the jig counts them; they are typed on the cutter's own page

    def save_model(self, request: HttpRequest, obj: Cutter, form: forms.ModelForm, change: bool) -> None:
        """Write what was changed, as the change that it is to whoever has the cutter's own page open."""
        if change:
            obj.version = F("version") + 1
            obj.save(update_fields=[*form.changed_data, "version"])
        else:
            obj.save()


@admin.register(Species)
class SpeciesAdmin(admin.ModelAdmin):
    """Woods."""

    list_display = ("name", "botanical", "c_radial", "c_tangential", "trade_note_on")
    search_fields = ("name", "botanical")

    def save_model(self, request: HttpRequest, obj: Species, form: forms.ModelForm, change: bool) -> None:
        """Write what was changed, as the change that it is to whoever has the wood's own page open."""
        if change:
            obj.version = F("version") + 1
        obj.save()


class RouteForm(forms.ModelForm):
    """A route as a list of stages, one a line."""

    stages = forms.CharField(
        widget=forms.Textarea(attrs={"rows": 6}),
        help_text=f"One stage a line, in their order. There are {', '.join(STAGES)}.",
    )

    class Meta:
        model = Route
        fields = ("name", "stages", "place")

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.initial["stages"] = "\n".join(self.instance.stages)

    def clean_stages(self) -> list[str]:
        """Read one stage from each line."""
        return [line.strip().lower() for line in self.cleaned_data["stages"].splitlines() if line.strip()]


@admin.register(Route)
class RouteAdmin(admin.ModelAdmin):
    """Routes."""

    form = RouteForm
    list_display = ("name", "stages", "place")


@admin.register(Series)
class SeriesAdmin(admin.ModelAdmin):
    """Number series: one for blanks, one for builds."""

    list_display = ("kind", "prefix", "with_year", "digits", "last")
    readonly_fields = ("kind",)

    def has_add_permission(self, request: HttpRequest) -> bool:
        """There are only these two."""
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Series | None = None) -> bool:
        """Numbers would start again from one."""
        return False
