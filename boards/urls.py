"""The addresses of what passes through the shop."""

from django.urls import include, path

from boards import benches, blanks, fullsize, gauging, intake, live, papers, pictures, provenance, rack, scan, travellers

app_name = "boards"
urlpatterns = [
    path("", benches.today, name="today"),
    path("find/", scan.find, name="find"),
    path("scan/<slug:number>/", scan.scan, name="scan"),
    path("intake/", intake.intake, name="intake"),
    path("rack/", rack.rack, name="rack"),
    path("", include("boards.moisture_urls")),
    path("rack/", include("boards.rack_urls")),
    path("labels/", include("boards.label_urls")),
    path("", include("boards.table_urls")),
    path("benches/", benches.benches, name="benches"),
    path("benches/<slug:stage>/", benches.bench, name="bench"),
    path("benches/<slug:stage>/run/", benches.bench_run, name="bench-run"),
    path("benches/<slug:stage>/stand/", benches.stand, name="stand"),
    path("benches/<slug:stage>/news/", live.bench_news, name="bench-news"),
    path("benches/<slug:stage>/", include("boards.plan_urls")),
    path("benches/<slug:stage>/travellers.pdf", travellers.bench_travellers, name="bench-travellers"),
    path("blanks/<slug:number>/", blanks.blank_page, name="blank"),
    path("blanks/<slug:number>/traveller.pdf", travellers.traveller, name="traveller"),
    path("blanks/<slug:number>/finish/<slug:stage>/", blanks.finish, name="finish"),
    path("blanks/<slug:number>/undo/<int:entry>/", blanks.undo, name="undo"),
    path("blanks/<slug:number>/put/", blanks.put, name="put"),
    path("blanks/<slug:number>/take-off/", blanks.take_off, name="take-off"),
    path("blanks/<slug:number>/hold/", blanks.hold, name="hold"),
    path("blanks/<slug:number>/release/", blanks.release, name="release"),
    path("blanks/<slug:number>/rework/", blanks.rework, name="rework"),
    path("blanks/<slug:number>/scrap/", blanks.scrap, name="scrap"),
    path("blanks/<slug:number>/measure/", blanks.measure, name="measure"),
    path("blanks/<slug:number>/gauge/", gauging.gauge, name="gauge"),
    path("blanks/<slug:number>/photographs/", pictures.pictures, name="pictures"),
    path("blanks/<slug:number>/photographs/add/", pictures.add, name="add-pictures"),
    path("blanks/<slug:number>/photographs/<int:pk>/take-away/", pictures.take_away, name="take-picture-away"),
    path("photographs/<str:file>", pictures.picture, name="picture"),
    path("blanks/<slug:number>/papers/", papers.papers, name="papers"),
    path("blanks/<slug:number>/papers/<int:pk>/take-away/", papers.take_away, name="take-paper-away"),
    path("papers/<int:pk>/file/", papers.scan, name="paper-file"),
    path("builds/<slug:build>/provenance.pdf", provenance.provenance, name="provenance"),
    path("builds/<slug:build>/<slug:what>.<slug:kind>", fullsize.of_build, name="full-size"),
    path("formers/<int:pk>/former.<slug:kind>", fullsize.former, name="former-full-size"),
]
