"""Whether an interval is used up is judged twice: by the rule of intervals for the row that is kept, and against the lines in
that row for the meters as they stand now. Where nothing has moved between, both say the same."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

from hypothesis import example, given
from hypothesis import strategies as st

from fleet.models.carts import Cart
from people.yard import yard_day
from servicing.meters_now import CartMeters, MeterNow
from servicing.models.plans import ServiceDone, ServicePlan
from servicing.service_book import reckon
from servicing.service_due import passed_line

AT = datetime(2026, 11, 25, 2, tzinfo=UTC)
LENGTHS = st.one_of(st.none(), st.integers(1, 20_000))
TENTHS = st.integers(0, 400_000).map(lambda tenths: Decimal(tenths) / 10)


@st.composite
def near_its_lines(draw, length, over_pct):
    """(then, now) of a meter, often a tenth beside a line."""
    then = draw(TENTHS)
    line = Decimal((length or 250) * draw(st.sampled_from([0, 100, 100 + over_pct]))) / 100
    beside = Decimal(draw(st.integers(-2, 2))) / 10
    used = draw(st.one_of(st.just(max(line + beside, Decimal(0))), TENTHS))
    return then, then + used.quantize(Decimal("0.1"))


@st.composite
def worked(draw):
    """A service, how the meters stood when it was last done, and how they stand."""
    over_pct = draw(st.sampled_from([0, 5, 10, 33, 100]))
    lengths = {
        "engine_hours": draw(LENGTHS),
        "km": draw(LENGTHS),
        "months": draw(st.one_of(st.none(), st.integers(1, 60))),
    }
    meters = {kind: draw(near_its_lines(lengths[kind], over_pct)) for kind in ("engine_hours", "km")}
    return lengths, over_pct, meters, draw(st.integers(0, 2_500))


@given(worked())
@example((
    {"engine_hours": 250, "km": None, "months": None}, 10,
    {"engine_hours": (Decimal(0), Decimal(275)), "km": (Decimal(0), Decimal(0))}, 3,
))  # fmt: skip
@example((
    {"engine_hours": 250, "km": None, "months": None}, 10,
    {"engine_hours": (Decimal(1), Decimal(251)), "km": (Decimal(0), Decimal(0))}, 3,
))  # fmt: skip
@example((
    {"engine_hours": None, "km": None, "months": 6}, 10,
    {"engine_hours": (Decimal(0), Decimal(0)), "km": (Decimal(0), Decimal(0))}, 199,
))  # fmt: skip
def test_both_say_the_same_of_every_line(case):
    lengths, over_pct, meters, days = case
    if not any(lengths.values()):
        return
    cart, plan = Cart(), ServicePlan(name="Service", tolerance_pct=over_pct, **lengths)
    done = ServiceDone(
        plan=plan, done_at=AT - timedelta(days=days), **{kind: then for kind, (then, _) in meters.items()}
    )
    now = CartMeters({kind: MeterNow(value=value, read_at=AT) for kind, (_, value) in meters.items()})
    row = reckon(cart, plan, done, now, at=AT)
    standing = {(cart.pk, kind): value for kind, (_, value) in meters.items()}
    is_due = passed_line(row, "due", standing, yard_day(AT))
    is_over = passed_line(row, "stop", standing, yard_day(AT))
    assert (is_due, is_over) == (row.state in ("due", "overdue"), row.state == "overdue")
