"""The addresses of builds, below builds/."""

from django.urls import path

from shop import buildlife, buildlist, builds

urlpatterns = [
    path("", buildlist.builds, name="builds"),
    path("new/", builds.new_build, name="new-build"),
    path("preview/", builds.preview, name="preview"),
    path("<slug:number>/", builds.build_page, name="build"),
    path("<slug:number>/change/", builds.edit_build, name="edit-build"),
    path("<slug:number>/note/", buildlife.note, name="note-build"),
    path("<slug:number>/hold/", buildlife.hold, name="hold-build"),
    path("<slug:number>/go-on/", buildlife.go_on, name="go-on-build"),
    path("<slug:number>/deliver/", buildlife.deliver, name="deliver-build"),
    path("<slug:number>/cancel/", buildlife.cancel, name="cancel-build"),
    path("<slug:number>/reopen/", buildlife.reopen, name="reopen-build"),
]
