from django.urls import path

from inspections.views import change_over, names, pages, papers, questions, sheets, sync, sync_photos

app_name = "inspections"
urlpatterns = [
    path("check/", pages.capture, name="capture"),
    path("check/worker.js", pages.capture_worker, name="capture_worker"),
    path("check/<uuid:line_id>/slake.webmanifest", pages.site_manifest, name="site_manifest"),
    path("sync/hello", sync.hello, name="sync_hello"),
    path("sync/reference", sync.reference, name="sync_reference"),
    path("sync/change-over", change_over.change_over, name="sync_change_over"),
    path("sync/held", sync.held, name="sync_held"),
    path("sync/lap/<uuid:cart_id>.svg", sync.lap, name="sync_lap"),
    path("sync/photo/<str:sha256>", sync_photos.photo, name="sync_photo"),
    path("sync/walk-round/<uuid:walk_id>", sync.walk_round, name="sync_walk_round"),
    path("sync/walk-round/<uuid:walk_id>/name", change_over.name, name="sync_name"),
    path("sync/heads-test/<uuid:record_id>", sync.heads_test, name="sync_heads_test"),
    path("walk-rounds/", pages.walk_round_list, name="walk_round_list"),
    path("walk-rounds/<uuid:walk_id>/", pages.walk_round_detail, name="walk_round_detail"),
    path("walk-rounds/<uuid:walk_id>/this-was-me/", names.name_confirm, name="name_confirm"),
    path("walk-rounds/<uuid:walk_id>/accept/", names.check_accept, name="check_accept"),
    path("walk-rounds/questions/", questions.question_list, name="question_list"),
    path("walk-rounds/<uuid:walk_id>/questions/<slug:code>/", questions.question_rest, name="question_rest"),
    path("check-sheets/", sheets.sheet_list, name="sheet_list"),
    path("check-sheets/add/", sheets.check_add, name="check_add"),
    path("check-sheets/publish/", sheets.publish, name="publish"),
    path("check-sheets/<slug:key>/", sheets.check_change, name="check_change"),
    path("check-sheets/<slug:key>/retire/", sheets.check_retire, name="check_retire"),
    path("check-sheets/<slug:key>/take-back/", sheets.check_take_back, name="check_take_back"),
    path("v/", papers.verify_find, name="verify_find"),
    path("v/<str:code>/", papers.verify, name="verify"),
    path("papers/<uuid:certificate_id>/", papers.certificate_detail, name="certificate_detail"),
    path("papers/<uuid:certificate_id>/withdraw/", papers.certificate_withdraw, name="certificate_withdraw"),
    path("papers/<uuid:certificate_id>/file.pdf", papers.certificate_file, name="certificate_file"),
]
