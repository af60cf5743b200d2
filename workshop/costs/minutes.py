"""What a minute of work costs, how many minutes a unit takes, and what a mould wears.

Hands go into goods at standard minutes, never at logged ones (IAS 2.21): what a slow day costs
beyond the standard is expense of that day (IAS 2.16(a)).
"""

from collections.abc import Sequence
from decimal import Decimal

from workshop.costs.amounts import MINUTES_AN_HOUR, ONE, ZERO

USUAL_LIFE = 40  # fillings of a clay mould; starting figure, to be measured
ENOUGH_GONE = 5  # moulds broken or retired before the measured life is used
OPEN_SHARE = Decimal("0.60")  # of the hands' opening minutes that goes into goods; starting figure
CLOSED_MONTHS, FEWEST_MONTHS = 12, 3


def minutes_each(
    rate_min: Decimal,
    allowance: Decimal,
    *,
    factor: Decimal = ONE,
    own_min: Decimal | None = None,
) -> Decimal:
    """Standard minutes of one unit: the bead's own, else the rate's by the pattern, with rest.

    >>> minutes_each(Decimal("6.5"), Decimal("0.12"), factor=Decimal(2))
    Decimal('14.560')
    >>> minutes_each(Decimal("6.5"), Decimal("0.12"), factor=Decimal(2), own_min=Decimal(9))
    Decimal('10.08')

    Source: standard time = basic time × (1 + allowance), ILO, Introduction to Work Study, 1992.
    """
    basic = rate_min * factor if own_min is None else own_min
    return basic * (ONE + allowance)


def minute_pay(hourly: Decimal, employer_share: Decimal) -> Decimal:
    """What a minute of an hourly paid hand costs, with the employer's share.

    >>> minute_pay(Decimal("7.20"), Decimal("0.25"))
    Decimal('0.1500')
    """
    return hourly * (ONE + employer_share) / MINUTES_AN_HOUR


def piece_each(
    piece: Decimal,
    employer_share: Decimal,
    *,
    factor: Decimal = ONE,
    own_piece: Decimal | None = None,
) -> Decimal:
    """What one piece paid by the piece costs, with the employer's share.

    >>> piece_each(Decimal("0.05"), Decimal("0.22"), factor=Decimal(2))
    Decimal('0.1220')
    """
    return (piece * factor if own_piece is None else own_piece) * (ONE + employer_share)


def employer_share(paid_hours: Decimal, worked_hours: Decimal, contributions: Decimal) -> Decimal:
    """What comes on top of pay for a worked hour: paid time not worked, social charges.

    contributions  of the employer, a share of gross pay

    >>> round(employer_share(Decimal(2080), Decimal(1832), Decimal("0.2375")), 6)
    Decimal('0.405022')

    Source: ILO resolution on statistics of labour cost, 11th ICLS 1966, classes II and VI.
    """
    return paid_hours / worked_hours * (ONE + contributions) - ONE


def workshop_minute(
    month_costs: Decimal,
    closed_minutes: Sequence[Decimal],
    *,
    owner_minutes: Decimal | None = None,
    open_minutes: Decimal = ZERO,
) -> Decimal:
    """Workshop costs of one standard minute: a month's costs over a usual month's minutes.

    closed_minutes  standard minutes that went into goods, month by month, the oldest first
    owner_minutes   the owner's own figure, while fewer than 3 months are closed
    open_minutes    opening minutes of the month × bench hands, the starting figure's ground

    >>> workshop_minute(Decimal(90), [Decimal(880), Decimal(940), Decimal(880)])
    Decimal('0.1')

    Source: IAS 2.13, normal capacity as the average of several periods.
    """
    closed = list(closed_minutes)[-CLOSED_MONTHS:]
    if len(closed) >= FEWEST_MONTHS:
        usual = sum(closed, ZERO) / len(closed)
    elif owner_minutes:
        usual = owner_minutes
    else:
        usual = OPEN_SHARE * open_minutes
    return month_costs / usual if usual > 0 else ZERO


def usual_life(fillings: int, gone: int, *, owner: int | None = None) -> Decimal:
    """Fillings that a mould lasts: logged ones over moulds gone, in the last 365 days.

    >>> round(usual_life(430, 11), 6), usual_life(430, 4, owner=60), usual_life(0, 0)
    (Decimal('39.090909'), Decimal('60'), Decimal('40'))
    """
    if gone >= ENOUGH_GONE:
        return Decimal(fillings) / gone
    return Decimal(owner or USUAL_LIFE)


def mould_wear(price: Decimal, life: Decimal) -> Decimal:
    """What one filling wears off a mould.

    >>> mould_wear(Decimal(6), Decimal(40))
    Decimal('0.15')
    """
    return price / life
