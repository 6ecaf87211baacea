"""Amounts of money as whole minor units: read, shown, rounded and shared."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor

from ledger.errors import Refusal


@dataclass(frozen=True)
class Currency:
    """A currency: its letters, its three-figure code (a string: "048") and how many decimals it has."""

    code: str
    number: str
    digits: int


# ISO 4217 list one as published on 1 January 2026: national currencies, without funds, metals and test codes.
_BY_DIGITS = {
    2: """
    AED784 AFN971 ALL008 AMD051 AOA973 ARS032 AUD036 AWG533 AZN944 BAM977 BBD052 BDT050 BMD060 BND096 BOB068
    BRL986 BSD044 BTN064 BWP072 BYN933 BZD084 CAD124 CDF976 CHF756 CNY156 COP170 CRC188 CUP192 CVE132 CZK203
    DKK208 DOP214 DZD012 EGP818 ERN232 ETB230 EUR978 FJD242 FKP238 GBP826 GEL981 GHS936 GIP292 GMD270 GTQ320
    GYD328 HKD344 HNL340 HTG332 HUF348 IDR360 ILS376 INR356 IRR364 JMD388 KES404 KGS417 KHR116 KPW408 KYD136
    KZT398 LAK418 LBP422 LKR144 LRD430 LSL426 MAD504 MDL498 MGA969 MKD807 MMK104 MNT496 MOP446 MRU929 MUR480
    MVR462 MWK454 MXN484 MYR458 MZN943 NAD516 NGN566 NIO558 NOK578 NPR524 NZD554 PAB590 PEN604 PGK598 PHP608
    PKR586 PLN985 QAR634 RON946 RSD941 RUB643 SAR682 SBD090 SCR690 SDG938 SEK752 SGD702 SHP654 SLE925 SOS706
    SRD968 SSP728 STN930 SVC222 SYP760 SZL748 THB764 TJS972 TMT934 TOP776 TRY949 TTD780 TWD901 TZS834 UAH980
    USD840 UYU858 UZS860 VES928 WST882 XCD951 XCG532 YER886 ZAR710 ZMW967 ZWG924
    """,
    0: """
    BIF108 CLP152 DJF262 GNF324 ISK352 JPY392 KMF174 KRW410 PYG600 RWF646 UGX800 VND704 VUV548 XAF950 XOF952
    XPF953
    """,
    3: "BHD048 IQD368 JOD400 KWD414 LYD434 OMR512 TND788",
}

CURRENCIES: dict[str, Currency] = {
    entry[:3]: Currency(entry[:3], entry[3:], digits)
    for digits, entries in _BY_DIGITS.items()
    for entry in entries.split()
}

_SYMBOLS = {"GBP": "£", "EUR": "€", "USD": "$", "JPY": "¥"}
_MINUS = "−"
_MOST_FIGURES = 12  # before the point; keeps every sum of amounts far inside 2^53


def currency(code: str) -> Currency:
    """The currency with these three letters. Raises Refusal for letters that name none."""
    try:
        return CURRENCIES[code]
    except KeyError:
        raise Refusal(f"“{code}” is not a currency. Write its three letters, such as GBP.") from None


def parse(text: str, currency: str, *, allow_negative: bool = False) -> int:
    """The whole minor units that were typed: "65", "65.00", "£ 65.50".

    A point marks the decimals, at most as many as the currency has; commas are refused, because 6,5 and 1,234
    cannot be told apart safely. Below nothing is refused unless `allow_negative`. Raises Refusal.
    """
    typed = text.strip()
    digits = CURRENCIES[currency].digits
    if not typed:
        raise Refusal(f"Write an amount, such as {plain(65 * 10**digits, currency)}.")
    negative, figures = _without_marks(typed, currency)
    if "," in figures:
        raise Refusal(f"“{typed}” has a comma: write {_without_comma(figures, digits)}.")
    found = re.fullmatch(r"([0-9]+)(?:\.([0-9]+))?", figures)
    if not found:
        raise Refusal(
            f"“{typed}” is not an amount in {currency}: write one such as {plain(65 * 10**digits, currency)}."
        )
    whole, decimals = found[1], found[2] or ""
    if len(whole) > _MOST_FIGURES:
        raise Refusal(f"“{typed}” has more than {_MOST_FIGURES} figures before the point. Look at it again.")
    exact = Fraction(f"{whole}.{decimals or '0'}") * 10**digits
    if len(decimals) > digits:
        nearest = sorted({floor(exact), -floor(-exact)})
        write = " or ".join(plain(amount, currency) for amount in nearest)
        raise Refusal(f"“{typed}” has more decimals than {currency} has: write {write}.")
    if negative and exact and not allow_negative:
        raise Refusal(f"“{typed}” is below nothing: write {plain(int(exact), currency)}.")
    return -int(exact) if negative else int(exact)


def _without_marks(typed: str, currency: str) -> tuple[bool, str]:
    """Whether a minus was typed, and what is left without it, without spaces and this currency's own mark."""
    figures = "".join(typed.split())
    negative = False
    for _ in range(2):  # the minus stands before or after the mark: -£5, £-5
        if not negative and figures[:1] in ("-", _MINUS):
            negative, figures = True, figures[1:]
        for mark in (currency, _SYMBOLS.get(currency)):
            if mark and figures.upper().startswith(mark):
                figures = figures[len(mark) :]
    return negative, figures


def _without_comma(figures: str, digits: int) -> str:
    """What somebody who typed a comma most likely meant."""
    head, _, tail = figures.rpartition(",")
    if "." not in figures and "," not in head and head.isdigit() and tail.isdigit() and len(tail) <= digits:
        return f"{head}.{tail:0<{digits}}"
    return figures.replace(",", "")


def plain(minor: int, currency: str) -> str:
    """As "65.00": no mark, no thousands commas, an ASCII minus; what the API gives and a form holds."""
    digits = CURRENCIES[currency].digits
    sign, size = ("-" if minor < 0 else ""), abs(minor)
    if not digits:
        return f"{sign}{size}"
    return f"{sign}{size // 10**digits}.{size % 10**digits:0{digits}}"


def bare(minor: int, currency: str) -> str:
    """As "1,865.00", "−540.90": for a column whose heading names the currency. The minus is U+2212."""
    whole, point, decimals = plain(abs(minor), currency).partition(".")
    return f"{_MINUS if minor < 0 else ''}{int(whole):,}{point}{decimals}"


def shown(minor: int, currency: str) -> str:
    """As "£65.00", "−£1,040.90", or "CHF 65.00" where no mark is sure to be understood."""
    sign = _MINUS if minor < 0 else ""
    return f"{sign}{_SYMBOLS.get(currency, currency + ' ')}{bare(abs(minor), currency)}"


def half_up(amount: Fraction) -> int:
    """The nearest whole number; a tie goes away from zero, so that a refund undoes what a payment did."""
    size = floor(abs(amount) + Fraction(1, 2))
    return -size if amount < 0 else size


def shares(total: int, weights: Sequence[int | Fraction]) -> list[int]:
    """`total` shared in proportion to `weights`, in whole units that sum to it.

    Largest remainder, ties to the earlier. Raises ValueError where there is nothing to share over (no weights
    or all of them zero) and where a weight is below zero.
    """
    if any(weight < 0 for weight in weights):
        raise ValueError("a weight is below zero")
    whole = sum(weights, start=Fraction(0))
    if not whole:
        raise ValueError("nothing to share over")
    exact = [abs(total) * Fraction(weight) / whole for weight in weights]
    parts = [floor(part) for part in exact]
    by_remainder = sorted(range(len(parts)), key=lambda place: parts[place] - exact[place])
    for place in by_remainder[: abs(total) - sum(parts)]:
        parts[place] += 1
    return parts if total >= 0 else [-part for part in parts]
