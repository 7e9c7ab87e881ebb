from django.urls import path

from fleet.views import carts, gear, pictures, standing, water

app_name = "fleet"
urlpatterns = [
    path("carts/", carts.cart_list, name="cart_list"),
    path("carts/add/", carts.cart_add, name="cart_add"),
    path("carts/<uuid:cart_id>/", carts.cart_detail, name="cart_detail"),
    path("carts/<uuid:cart_id>/change/", carts.cart_change, name="cart_change"),
    path("carts/<uuid:cart_id>/axles/", carts.axles_change, name="axles_change"),
    path("carts/<uuid:cart_id>/where/", carts.cart_move, name="cart_move"),
    path("carts/<uuid:cart_id>/gear/", gear.gear_list, name="gear_list"),
    path("gear/<uuid:fitment_id>/came-off/", gear.gear_remove, name="gear_remove"),
    path("carts/<uuid:cart_id>/fit-tyre/", gear.tyre_fit, name="tyre_fit"),
    path("tyre-fittings/<uuid:fitting_id>/take-off/", gear.tyre_take_off, name="tyre_take_off"),
    path("carts/<uuid:cart_id>/meter/", gear.meter_change, name="meter_change"),
    path("readings/<uuid:question_id>/settle/", gear.question_settle, name="question_settle"),
    path("carts/<uuid:cart_id>/extinguisher/", gear.extinguisher_place, name="extinguisher_place"),
    path(
        "extinguishers/<uuid:extinguisher_id>/service/",
        gear.extinguisher_service,
        name="extinguisher_service",
    ),
    path("extinguishers/<uuid:extinguisher_id>/used/", gear.extinguisher_used, name="extinguisher_used"),
    path("carts/<uuid:cart_id>/paper/", gear.document_add, name="document_add"),
    path("yard-papers/add/", gear.yard_document_add, name="yard_document_add"),
    path("carts/<uuid:cart_id>/water/", water.water_list, name="water_list"),
    path("carts/<uuid:cart_id>/water/fill/", water.water_fill, name="water_fill"),
    path("carts/<uuid:cart_id>/water/sanitise/", water.tank_sanitise, name="tank_sanitise"),
    path("water/<uuid:row_id>/strike/", water.water_strike, name="water_strike"),
    path("sanitisings/<uuid:row_id>/test/", water.sanitising_test, name="sanitising_test"),
    path("sanitisings/<uuid:row_id>/strike/", water.sanitising_strike, name="sanitising_strike"),
    path("carts/<uuid:cart_id>/hold/", standing.hold_place, name="hold_place"),
    path("holds/<uuid:hold_id>/lift/", standing.hold_lift, name="hold_lift"),
    path("carts/<uuid:cart_id>/pass/", standing.pass_give, name="pass_give"),
    path("passes/<uuid:pass_id>/close/", standing.pass_close, name="pass_close"),
    path("limits/<uuid:limit_id>/lift/", standing.limit_lift, name="limit_lift"),
    path("carts/<uuid:cart_id>/lap.svg", pictures.lap, name="lap"),
    path("carts/<uuid:cart_id>/plate/", pictures.plate_print, name="plate_print"),
    path("photos/<uuid:photo_id>.jpg", pictures.photo, name="photo"),
    path("plate/<str:code>/", pictures.plate, name="plate"),
]
