"""Signing in, and the page of the very first start, which makes the owner's account."""

from __future__ import annotations

import unicodedata
from datetime import datetime
from typing import Any

from django import forms
from django.conf import settings
from django.contrib.auth import get_user_model, login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm, BaseUserCreationForm
from django.contrib.auth.views import LoginView
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from shop.forms import PlainWords
from shop.models import Lengths, Paper, Shop
from shop.models.tries import ACCOUNT, ADDRESS, PIN, Counted, Shut, begin_try, end_try
from shop.tablets import in_words, names_page, tablet_of
from shop.unsent import KEPT_MINUTES, unsent

User = get_user_model()


class SignInForm(PlainWords, AuthenticationForm):
    """A name and a password."""

    error_messages = {
        "invalid_login": "No account has this name with this password. Capitals count in both.",
        "inactive": "This account has been closed.",
    }

    def __init__(self, *args: Any, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.now = now
        self.shut: Shut | None = None
        self.fields["username"].label = "Your name"

    def clean(self) -> dict[str, Any]:
        """Let the password count only while not too much has been tried, with this name or from this address."""
        name, password = self.cleaned_data.get("username"), self.cleaned_data.get("password")
        if not name or not password:
            return super().clean()
        account, address = account_counted(name), (ADDRESS, self.request.META.get("REMOTE_ADDR", ""))
        self.shut = begin_try([account, address], self.now)
        if self.shut:
            raise forms.ValidationError(in_words(self.shut), code="too-many")
        cleaned = super().clean()
        end_try(clear=[account, (PIN, str(self.get_user().pk))], give_back=[address])
        return cleaned


def account_counted(name: str) -> Counted:
    """Count tries under a name, whether or not it is anybody's, and however it is written."""
    return ACCOUNT, unicodedata.normalize("NFKC", name).casefold()


class SignIn(LoginView):
    """The sign-in page. While there is nobody who could, it leads to the first-run page instead.

    An enrolled tablet is led to the names of those who work at it, unless it asks for the password.
    """

    template_name = "shop/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Show the page."""
        if not User.objects.exists():
            return redirect("first-run")
        if "with-password" not in request.GET and tablet_of(request):
            return redirect(names_page(self.get_redirect_url()))
        return super().get(request, *args, **kwargs)

    def get_form_kwargs(self) -> dict[str, Any]:
        """Pass the time in."""
        return {**super().get_form_kwargs(), "now": timezone.now()}

    def get_success_url(self) -> str:
        """Go on to what was typed before, if there is anything."""
        return reverse("unsent") if unsent(self.request) else super().get_success_url()

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """In the demo, say how to get in; and that what was typed is not lost."""
        kept = {"unsent": unsent(self.request), "kept_minutes": KEPT_MINUTES, "tablet": tablet_of(self.request)}
        demo_account = settings.DEMO_ACCOUNT if settings.DEMO else None
        return super().get_context_data(demo_account=demo_account, **kept, **kwargs)

    def form_invalid(self, form: forms.Form) -> HttpResponse:
        """Show it again, with what was not right."""
        return self.render_to_response(self.get_context_data(form=form), status=429 if form.shut else 422)


class FirstRunForm(PlainWords, BaseUserCreationForm):
    """What has to be known before anything else: whose shop it is, and who owns it."""

    shop_name = forms.CharField(
        label="Shop's name", max_length=60, widget=forms.TextInput(attrs={"autofocus": True, "autocomplete": "off"})
    )
    lengths = forms.ChoiceField(
        label="Lengths are shown in",
        choices=Lengths.choices,
        initial=Lengths.MM,
        help_text="Either may be typed anywhere.",
        widget=forms.RadioSelect,
    )
    paper = forms.ChoiceField(label="Paper in the printer", choices=Paper.choices, widget=forms.RadioSelect)

    class Meta:
        model = User
        fields = ("username",)
        labels = {"username": "Your name"}
        help_texts = {"username": "To sign in with."}
        error_messages = {"username": {"invalid": "Only letters, digits and @ . + - _, and no spaces."}}

    field_order = ("shop_name", "lengths", "paper", "username", "password1", "password2")
    error_messages = {"password_mismatch": "The two passwords differ."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        name = self.fields["username"].widget.attrs
        name["autocomplete"] = "username"
        name["autofocus"] = False
        self.fields["password1"].help_text = "8 characters or more, not only digits, and none that everybody uses."
        self.fields["password2"].label = "Password, once more"
        self.fields["password2"].help_text = ""

    @transaction.atomic
    def save_first(self) -> Any:
        """Make the owner's account and name the shop; return nothing if there is an account already.

        Two browsers may send this page at once. The second waits at the shop's row (SQLite: at the start of its
        transaction) and then finds the first one's account.
        """
        shop = Shop.objects.select_for_update().get_or_create(pk=1)[0]
        if User.objects.exists():
            return None
        shop.name = self.cleaned_data["shop_name"]
        shop.lengths = self.cleaned_data["lengths"]
        shop.paper = self.cleaned_data["paper"]
        shop.save()
        return User.objects.create_superuser(self.cleaned_data["username"], password=self.cleaned_data["password1"])


@login_not_required
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def first_run(request: HttpRequest) -> HttpResponse:
    """Ask for the shop's name and the owner's account, while there is none; never again after that."""
    if User.objects.exists():
        return redirect("sign-in")
    form = FirstRunForm(request.POST or None, initial={"lengths": Lengths.MM, "paper": Paper.A4})
    if request.method == "POST" and form.is_valid():
        owner = form.save_first()
        if owner is None:
            return redirect("sign-in")
        login(request, owner)
        return redirect("boards:first-steps")  # by name: shop does not import boards
    return render(request, "shop/first_run.html", {"form": form}, status=422 if form.is_bound else 200)
