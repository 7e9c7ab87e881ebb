from django.urls import path

from hire.views import customer_pages, customers, figures, gate, lines, off_hire, period, site_doors, swap

app_name = "hire"
urlpatterns = [
    path("hire/", lines.line_list, name="line_list"),
    path("hire/past/", lines.line_past, name="line_past"),
    path("hire/add/", lines.line_add, name="line_add"),
    path("hire/<uuid:line_id>/", lines.line_detail, name="line_detail"),
    path("hire/<uuid:line_id>/period/", period.line_move, name="line_move"),
    path("hire/<uuid:line_id>/cancel/", lines.line_cancel, name="line_cancel"),
    path("hire/<uuid:line_id>/stand-down/", lines.line_stand_down, name="line_stand_down"),
    path("hire/<uuid:line_id>/certificate/", lines.certificate_issue, name="certificate_issue"),
    path("hire/<uuid:line_id>/handover/", gate.handover, name="handover"),
    path("hire/<uuid:line_id>/back/", gate.back, name="back"),
    path("hire/<uuid:line_id>/off-hire/", off_hire.off_hire_call, name="off_hire_call"),
    path("hire/<uuid:line_id>/swap/", swap.line_swap, name="line_swap"),
    path("hire/off-hires/<uuid:off_hire_id>/cancel/", off_hire.off_hire_cancel, name="off_hire_cancel"),
    path("hire/off-hires/<uuid:off_hire_id>/left/", off_hire.off_hire_left, name="off_hire_left"),
    path("hire/off-hires/<uuid:off_hire_id>/failed/", off_hire.off_hire_failed, name="off_hire_failed"),
    path("hire/<uuid:line_id>/link/", lines.link_make, name="link_make"),
    path("hire/links/<uuid:link_id>/end/", lines.link_revoke, name="link_revoke"),
    path("hire/<uuid:line_id>/site-code/", site_doors.site_code_make, name="site_code_make"),
    path("hire/phones/<uuid:walker_id>/end/", site_doors.site_walker_end, name="site_walker_end"),
    path("figures/", figures.figures, name="figures"),
    path("customers/", customers.customer_list, name="customer_list"),
    path("customers/add/", customers.customer_add, name="customer_add"),
    path("customers/<uuid:customer_id>/", customers.customer_detail, name="customer_detail"),
    path("customers/<uuid:customer_id>/change/", customers.customer_change, name="customer_change"),
    path("h/<str:token>/", customer_pages.customer_page, name="customer_page"),
    path("h/<str:token>/pre-start/", site_doors.link_open, name="link_open"),
    path("plate/<str:code>/pre-start/", site_doors.plate_open, name="plate_open"),
    path("h/<str:token>/<uuid:certificate_id>.pdf", customer_pages.customer_file, name="customer_file"),
]
