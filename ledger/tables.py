"""Every table of the book. Table classes do not validate: acts build rows, the database checks them.

Units are in the names: `_minor` whole minor units of the ledger's currency, `_um` whole micrometres,
`_bp` hundredths of a percent, `_on` the day it happened, `at` the moment (UTC) it was recorded.
"""

from datetime import date, datetime
from typing import Any

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    ForeignKeyConstraint,
    Index,
    LargeBinary,
    String,
    UniqueConstraint,
    text,
)
from sqlmodel import Field, SQLModel

SQLModel.metadata.naming_convention = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


def check(name: str, rule: str) -> CheckConstraint:
    return CheckConstraint(rule, name=name)


def one_of(column: str, *words: str) -> CheckConstraint:
    return check(column, f"{column} IN ({', '.join(repr(word) for word in words)})")


def only_one(name: str, *columns: str, where: str) -> Index:
    """A unique index over the rows that satisfy `where`."""
    return Index(name, *columns, unique=True, sqlite_where=text(where), postgresql_where=text(where))


def money(**given: Any) -> Any:
    """A column of minor units: 64 bits, for a sum in rupiah or dong outgrows 32."""
    return Field(sa_type=BigInteger, **given)


class Studio(SQLModel, table=True):
    __tablename__ = "studio"
    __table_args__ = (
        check("one_row", "id = 1"),
        one_of("paper", "a5", "a4"),
        one_of("tax_by", "line", "invoice"),
        check("works_cap", "works_cap >= 0"),
        check("currency", "length(currency) = 3"),
    )
    id: int | None = Field(default=None, primary_key=True)
    maker_name: str
    name_as_signed: str
    address: str
    contact_line: str
    place: str
    currency: str
    paper: str = "a5"
    tax_by: str = "line"
    works_cap: int = 30
    particulars: bool = True
    fixed_sentence: bool = False
    care_line: str = ""


class Address(SQLModel, table=True):
    __tablename__ = "address"
    id: int | None = Field(default=None, primary_key=True)
    url: str = Field(unique=True)
    from_on: date
    entry_seq: int = Field(foreign_key="journal.seq")


class TaxStanding(SQLModel, table=True):
    __tablename__ = "tax_standing"
    __table_args__ = (check("rate", "rate_bp BETWEEN 0 AND 10000"),)
    id: int | None = Field(default=None, primary_key=True)
    from_on: date = Field(unique=True)
    registered: bool
    number: str | None = None
    rate_bp: int = 0


class Person(SQLModel, table=True):
    __tablename__ = "person"
    __table_args__ = (
        one_of("kind", "person", "business"),
        check(
            "erased_is_blank",
            "erased_at IS NULL OR (name IS NULL AND town IS NULL AND address IS NULL AND email IS NULL "
            "AND phone IS NULL AND note IS NULL)",
        ),
        check("named_until_erased", "erased_at IS NOT NULL OR name IS NOT NULL"),
    )
    id: int | None = Field(default=None, primary_key=True)
    kind: str = "person"
    name: str | None = None
    town: str | None = None
    address: str | None = None
    email: str | None = None
    phone: str | None = None
    note: str | None = None
    erased_at: datetime | None = None


class Picture(SQLModel, table=True):
    __tablename__ = "picture"
    __table_args__ = (check("has_pixels", "width_px > 0 AND height_px > 0"),)
    id: int | None = Field(default=None, primary_key=True)
    sha256: str = Field(unique=True)
    bytes: int
    format: str
    width_px: int
    height_px: int
    bits: int
    profile: str | None = None
    show_sha256: str
    paper_sha256: str
    thumb_sha256: str


class Work(SQLModel, table=True):
    __tablename__ = "work"
    id: int | None = Field(default=None, primary_key=True)
    title: str
    artist: str
    artist_born: int | None = None
    artist_died: int | None = None
    year_made: int
    medium: str
    picture_id: int | None = Field(default=None, foreign_key="picture.id")


class Edition(SQLModel, table=True):
    __tablename__ = "edition"
    __table_args__ = (
        one_of("kind", "limited", "open"),
        one_of("later_editions", "ruled_out", "reserved", "not_stated"),
        only_one("uq_edition_ordinal", "work_id", "ordinal", where="withdrawn_on IS NULL"),
        UniqueConstraint("id", "kind"),
        check("closed_has_reason", "(closed_on IS NULL) = (closed_reason IS NULL)"),
        check("sold_peak", "sold_peak >= 0"),
    )
    id: int | None = Field(default=None, primary_key=True)
    work_id: int = Field(foreign_key="work.id", index=True)
    ordinal: int
    kind: str
    statement: str
    later_editions: str
    declared_on: date
    begun_words: str | None = None
    sold_peak: int = 0
    withdrawn_on: date | None = None
    closed_on: date | None = None
    closed_reason: str | None = None


class EditionAnswer(SQLModel, table=True):
    __tablename__ = "edition_answer"
    __table_args__ = (
        one_of("answer", "value", "not_applicable", "not_known"),
        UniqueConstraint("edition_id", "item", "version"),
        check("value_says_something", "answer <> 'value' OR length(text) > 0"),
    )
    id: int | None = Field(default=None, primary_key=True)
    edition_id: int = Field(foreign_key="edition.id")
    item: str
    version: int = 1
    answer: str
    text: str = ""


class Size(SQLModel, table=True):
    __tablename__ = "size"
    __table_args__ = (
        UniqueConstraint("edition_id", "label"),
        check("image", "image_w_um > 0 AND image_h_um > 0"),
        check("sheet", "(sheet_w_um IS NULL) = (sheet_h_um IS NULL)"),
        check("sheet_positive", "sheet_w_um IS NULL OR (sheet_w_um > 0 AND sheet_h_um > 0)"),
    )
    id: int | None = Field(default=None, primary_key=True)
    edition_id: int = Field(foreign_key="edition.id")
    label: str
    image_w_um: int
    image_h_um: int
    sheet_w_um: int | None = None
    sheet_h_um: int | None = None


class MountCutter(SQLModel, table=True):
    """A mount cutter as one test cut showed it; calibrated again, it is another row of the same name."""

    __tablename__ = "mount_cutter"
    __table_args__ = (one_of("scale", "back", "face"),)
    id: int | None = Field(default=None, primary_key=True)
    name: str
    scale: str
    offset_um: int
    calibrated_on: date


class Frame(SQLModel, table=True):
    """A frame by its rebate, each direction measured once or at both ends."""

    __tablename__ = "frame"
    __table_args__ = (
        one_of("unit", "mm", "in"),
        check("measures", "width_a_um > 0 AND height_a_um > 0"),
        check("other_ends", "coalesce(width_b_um, 1) > 0 AND coalesce(height_b_um, 1) > 0"),
        check("depth", "coalesce(depth_um, 1) > 0"),
    )
    id: int | None = Field(default=None, primary_key=True)
    sold_as: str
    unit: str
    width_a_um: int
    width_b_um: int | None = None
    height_a_um: int
    height_b_um: int | None = None
    depth_um: int | None = None
    measured_on: date
    struck_at: datetime | None = None


class MountPlan(SQLModel, table=True):
    """What was asked for a mount, every figure as it was typed; the plan itself is reckoned again from it."""

    __tablename__ = "mount_plan"
    __table_args__ = (one_of("unit", "mm", "in"), one_of("kind", "window", "float", "board"))
    id: int | None = Field(default=None, primary_key=True)
    title: str
    kind: str
    unit: str
    size_id: int | None = Field(default=None, foreign_key="size.id", index=True)
    cutter_id: int | None = Field(default=None, foreign_key="mount_cutter.id", index=True)
    asked: bytes = Field(sa_column=Column(LargeBinary, nullable=False))
    made_on: date
    struck_at: datetime | None = None


class Offcut(SQLModel, table=True):
    """A piece of board that is left over, until it is used."""

    __tablename__ = "offcut"
    __table_args__ = (one_of("unit", "mm", "in"), check("sides", "width_um > 0 AND height_um > 0"))
    id: int | None = Field(default=None, primary_key=True)
    board: str = ""
    unit: str
    width_um: int
    height_um: int
    mount_plan_id: int | None = Field(default=None, foreign_key="mount_plan.id", index=True)
    kept_on: date
    used_at: datetime | None = None


class Offer(SQLModel, table=True):
    __tablename__ = "offer"
    id: int | None = Field(default=None, primary_key=True)
    size_id: int = Field(foreign_key="size.id", index=True)
    from_on: date
    process: str
    paper: str
    mounting: str = ""
    mount_plan_id: int | None = Field(default=None, foreign_key="mount_plan.id", index=True)
    recipe_id: int | None = Field(default=None, foreign_key="recipe.id", index=True)


class PriceStep(SQLModel, table=True):
    __tablename__ = "price_step"
    __table_args__ = (
        UniqueConstraint("offer_id", "from_sold"),
        check("from_sold", "from_sold >= 1"),
        check("price", "price_minor >= 0"),
    )
    id: int | None = Field(default=None, primary_key=True)
    offer_id: int = Field(foreign_key="offer.id")
    from_sold: int
    price_minor: int = money()


class PrintClass(SQLModel, table=True):
    __tablename__ = "print_class"
    __table_args__ = (
        Index("ix_print_class_kind", "kind", "id"),
        one_of("kind", "numbered", "AP", "PP", "HC", "BAT", "EP", "TP"),
        one_of("style", "of_count", "roman_of_count", "roman", "serial", "unnumbered"),
        ForeignKeyConstraint(["edition_id", "edition_kind"], ["edition.id", "edition.kind"]),
        UniqueConstraint("edition_id", "kind"),
        UniqueConstraint("id", "count"),
        check("count", "count BETWEEN 0 AND 9999"),
        check("zero_only_open", "count > 0 OR (edition_kind = 'open' AND kind = 'numbered')"),
        check("open_has_no_ceiling", "edition_kind = 'limited' OR kind <> 'numbered' OR count = 0"),
        check("bat_is_one", "kind <> 'BAT' OR count = 1"),
    )
    id: int | None = Field(default=None, primary_key=True)
    edition_id: int
    kind: str
    label: str
    style: str
    count: int
    edition_kind: str


class SheetPlan(SQLModel, table=True):
    """How prints are ganged on a lab sheet: the job and the chosen layout, as canonical bytes.

    `sheet_minor` is what a sheet is expected to cost, and of an accepted plan what it did cost: taken back, the plan
    expects what was last said.
    """

    __tablename__ = "sheet_plan"
    __table_args__ = (
        check("sheet_minor", "sheet_minor >= 0"),
        check("bought", "bought IS NULL OR (bought > 0 AND accepted_on IS NOT NULL AND sheet_minor IS NOT NULL)"),
        check("delivery", "(bought IS NULL) = (delivery_minor IS NULL) AND (bought IS NULL OR delivery_minor >= 0)"),
        check("printed_on", "(bought IS NULL) = (printed_on IS NULL)"),
    )
    id: int | None = Field(default=None, primary_key=True)
    name: str
    made_on: date
    plan: bytes = Field(sa_column=Column(LargeBinary, nullable=False))
    accepted_on: date | None = None
    sheet_minor: int | None = money(default=None, nullable=True)
    bought: int | None = None
    delivery_minor: int | None = money(default=None, nullable=True)
    printed_on: date | None = None


class SheetPlanSize(SQLModel, table=True):
    """One size wanted of a plan, in its place there, and what it is for: a size of an edition, or nothing said."""

    __tablename__ = "sheet_plan_size"
    __table_args__ = (UniqueConstraint("plan_id", "place"), check("place", "place >= 0"))
    id: int | None = Field(default=None, primary_key=True)
    plan_id: int = Field(foreign_key="sheet_plan.id")
    place: int
    size_id: int | None = Field(default=None, foreign_key="size.id", index=True)


class Run(SQLModel, table=True):
    """`planned` prints were on the sheets bought; until they are counted all of them are taken for good.

    A struck one was written down by mistake: it has no prints.
    """

    __tablename__ = "run"
    __table_args__ = (
        check("counts", "sheets >= 0 AND good >= 0 AND spoilt >= 0"),
        check("planned", "(plan_id IS NULL) = (planned IS NULL)"),
        check("struck", "struck_at IS NULL OR (good = 0 AND spoilt = 0)"),
    )
    id: int | None = Field(default=None, primary_key=True)
    edition_id: int = Field(foreign_key="edition.id", index=True)
    made_on: date
    sheets: int
    good: int
    spoilt: int
    note: str = ""
    size_id: int | None = Field(default=None, foreign_key="size.id")
    plan_id: int | None = Field(default=None, foreign_key="sheet_plan.id", index=True)
    planned: int | None = None
    counted_on: date | None = None
    struck_at: datetime | None = None


class SpareFate(SQLModel, table=True):
    """What became of good prints of a run that no number was written on."""

    __tablename__ = "spare_fate"
    __table_args__ = (one_of("fate", "destroyed", "replacement", "archive", "given"), check("how_many", "how_many > 0"))
    id: int | None = Field(default=None, primary_key=True)
    run_id: int = Field(foreign_key="run.id", index=True)
    fate: str
    how_many: int
    settled_on: date
    note: str = ""


class Piece(SQLModel, table=True):
    __tablename__ = "piece"
    __table_args__ = (
        one_of("state", "free", "allocated", "inscribed", "withdrawn"),
        one_of("condition", "good", "damaged", "missing", "destroyed"),
        one_of("origin", "made", "entered"),
        ForeignKeyConstraint(["class_id", "class_count"], ["print_class.id", "print_class.count"]),
        check("within_count", "number >= 1 AND (class_count = 0 OR number <= class_count)"),
        UniqueConstraint("class_id", "number", "generation"),
        Index("ix_piece_number", "number", "class_count", "class_id"),
        Index("ix_piece_number_class", "number", "class_id", "class_count"),
        only_one("uq_piece_latest", "class_id", "number", where="latest"),
        UniqueConstraint("replaces"),
        check("first_generation", "(generation = 1) = (replaces IS NULL)"),
        check("generation", "generation >= 1"),
        check("condition_of_inscribed", "condition = 'good' OR state = 'inscribed'"),
        check("inscribed_has_size", "state <> 'inscribed' OR size_id IS NOT NULL OR origin = 'entered'"),
    )
    id: int | None = Field(default=None, primary_key=True)
    class_id: int
    class_count: int
    number: int
    generation: int = 1
    latest: bool = True
    size_id: int | None = Field(default=None, foreign_key="size.id")
    offer_id: int | None = Field(default=None, foreign_key="offer.id")
    state: str = "free"
    condition: str = "good"
    reason: str | None = None
    origin: str = "made"
    allocated_on: date | None = None
    inscribed_on: date | None = None
    inscription: str | None = None
    inscribed_where: str | None = None
    inscribed_with: str | None = None
    printed_by: str | None = None
    printed_year: int | None = None
    printed_month: int | None = None
    paper_as_made: str | None = None
    run_id: int | None = Field(default=None, foreign_key="run.id", index=True)
    replaces: int | None = Field(default=None, foreign_key="piece.id")
    ended_on: date | None = None
    ended_note: str | None = None


class Certificate(SQLModel, table=True):
    __tablename__ = "certificate"
    __table_args__ = (
        one_of("state", "valid", "suspended", "superseded", "void"),
        only_one("uq_certificate_live", "piece_id", where="state IN ('valid', 'suspended')"),
        UniqueConstraint("reissue_of"),
    )
    id: int | None = Field(default=None, primary_key=True)
    code: str = Field(unique=True)
    piece_id: int = Field(foreign_key="piece.id", index=True)
    state: str = "valid"
    issued_on: date
    place: str
    address_printed: str
    snapshot: bytes = Field(sa_column=Column(LargeBinary, nullable=False))
    reissue_of: int | None = Field(default=None, foreign_key="certificate.id")
    reason: str | None = None
    paper_sha256: str | None = None
    credential: bytes | None = None


class Holding(SQLModel, table=True):
    __tablename__ = "holding"
    __table_args__ = (
        one_of("holder", "maker", "estate", "person", "private", "unknown"),
        one_of(
            "how", "made", "sale", "gift", "exchange", "donation", "inheritance", "return", "replacement", "entered"
        ),
        check("person_is_named", "(holder = 'person') = (person_id IS NOT NULL)"),
        only_one("uq_holding_open", "piece_id", where="ended_on IS NULL AND NOT struck"),
    )
    id: int | None = Field(default=None, primary_key=True)
    piece_id: int = Field(foreign_key="piece.id", index=True)
    holder: str
    person_id: int | None = Field(default=None, foreign_key="person.id", index=True)
    how: str
    from_on: date | None = None
    from_words: str | None = None
    ended_on: date | None = None
    struck: bool = False


class Custody(SQLModel, table=True):
    __tablename__ = "custody"
    __table_args__ = (
        one_of("place", "studio", "van", "gallery", "framer", "loan", "post", "holder", "unknown"),
        only_one("uq_custody_open", "piece_id", where="ended_on IS NULL"),
    )
    id: int | None = Field(default=None, primary_key=True)
    piece_id: int = Field(foreign_key="piece.id", index=True)
    place: str
    person_id: int | None = Field(default=None, foreign_key="person.id")
    since_on: date | None = None
    since_words: str | None = None
    ended_on: date | None = None
    note: str = ""


class Channel(SQLModel, table=True):
    __tablename__ = "channel"
    __table_args__ = (
        one_of("kind", "fair", "web", "gallery", "direct"),
        check("fee", "fee_bp BETWEEN 0 AND 10000"),
        check("amounts", "fee_minor >= 0 AND packing_minor >= 0 AND postage_minor >= 0"),
    )
    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(unique=True)
    kind: str
    fee_bp: int = 0
    fee_minor: int = money(default=0)
    packing_minor: int = money(default=0)
    postage_minor: int = money(default=0)


class Occasion(SQLModel, table=True):
    __tablename__ = "occasion"
    __table_args__ = (one_of("kind", "selling", "round"), check("dates", "to_on >= from_on"))
    id: int | None = Field(default=None, primary_key=True)
    name: str
    kind: str
    from_on: date
    to_on: date
    channel_id: int | None = Field(default=None, foreign_key="channel.id")


class Consignment(SQLModel, table=True):
    __tablename__ = "consignment"
    __table_args__ = (
        one_of("commission_on", "print", "print_and_frame"),
        one_of("commission_of", "with_tax", "without_tax"),
        one_of("discount_by", "shared", "maker", "gallery", "half"),
        check("rates", "commission_bp BETWEEN 0 AND 10000 AND commission_tax_bp BETWEEN 0 AND 10000"),
    )
    id: int | None = Field(default=None, primary_key=True)
    person_id: int = Field(foreign_key="person.id", index=True)
    lent_on: date
    occasion_id: int | None = Field(default=None, foreign_key="occasion.id")
    commission_bp: int
    commission_on: str = "print"
    commission_of: str = "with_tax"
    commission_tax_bp: int = 0
    discount_by: str = "shared"


class Consigned(SQLModel, table=True):
    __tablename__ = "consigned"
    __table_args__ = (
        one_of("outcome", "out", "sold", "back"),
        only_one("uq_consigned_out", "piece_id", where="outcome = 'out'"),
        check("told", "told_price_minor >= 0 AND told_frame_minor >= 0"),
    )
    id: int | None = Field(default=None, primary_key=True)
    consignment_id: int = Field(foreign_key="consignment.id", index=True)
    piece_id: int = Field(foreign_key="piece.id", index=True)
    told_price_minor: int = money()
    told_frame_minor: int = money(default=0)
    outcome: str = "out"
    ended_on: date | None = None


class Sale(SQLModel, table=True):
    __tablename__ = "sale"
    __table_args__ = (
        one_of("buyer_shown", "named", "private", "unknown", "not_asked"),
        check("named_has_buyer", "(buyer_shown = 'named') = (buyer_id IS NOT NULL)"),
        check("postage", "postage_charged_minor >= 0 AND postage_paid_minor >= 0"),
    )
    id: int | None = Field(default=None, primary_key=True)
    sold_on: date = Field(index=True)
    told_on: date
    channel_id: int = Field(foreign_key="channel.id")
    occasion_id: int | None = Field(default=None, foreign_key="occasion.id", index=True)
    consignment_id: int | None = Field(default=None, foreign_key="consignment.id")
    buyer_id: int | None = Field(default=None, foreign_key="person.id", index=True)
    buyer_shown: str
    postage_charged_minor: int = money(default=0)
    postage_paid_minor: int = money(default=0)


class SaleLine(SQLModel, table=True):
    __tablename__ = "sale_line"
    __table_args__ = (
        one_of("outcome", "sold", "struck", "returned"),
        one_of("discount_by", "shared", "maker", "gallery", "half"),
        only_one("uq_sale_line_live", "piece_id", where="outcome = 'sold'"),
        check("price", "price_minor >= 0 AND frame_minor >= 0 AND charged_minor >= 0 AND list_minor >= 0"),
        check(
            "amounts",
            "tax_minor >= 0 AND commission_minor >= 0 AND commission_tax_minor >= 0 AND fee_minor >= 0 "
            "AND packing_minor >= 0 AND postage_minor >= 0",
        ),
        check("outcome_dated", "(outcome = 'sold') = (outcome_on IS NULL)"),
    )
    id: int | None = Field(default=None, primary_key=True)
    sale_id: int = Field(foreign_key="sale.id", index=True)
    piece_id: int = Field(foreign_key="piece.id", index=True)
    position: int | None = None
    list_minor: int = money()
    price_minor: int = money()
    frame_minor: int = money(default=0)
    charged_minor: int = money(default=0)
    discount_by: str | None = None
    tax_minor: int = money(default=0)
    commission_minor: int = money(default=0)
    commission_tax_minor: int = money(default=0)
    fee_minor: int = money(default=0)
    packing_minor: int = money(default=0)
    postage_minor: int = money(default=0)
    outcome: str = "sold"
    outcome_on: date | None = None
    reason: str | None = None


class Receipt(SQLModel, table=True):
    __tablename__ = "receipt"
    __table_args__ = (
        one_of("how", "cash", "card", "transfer", "site", "other"),
        check("amount", "amount_minor <> 0"),
        check("fee", "fee_minor >= 0"),
    )
    id: int | None = Field(default=None, primary_key=True)
    sale_id: int = Field(foreign_key="sale.id", index=True)
    received_on: date
    amount_minor: int = money()
    how: str
    fee_minor: int = money(default=0)
    struck: bool = False


class Cost(SQLModel, table=True):
    """`sheet_plan_id`: the plan that was accepted, where that wrote it down."""

    __tablename__ = "cost"
    __table_args__ = (
        one_of("basis", "piece", "run", "edition", "sale", "occasion", "studio"),
        check("amount", "amount_minor > 0"),
        check("piece", "(basis = 'piece') = (piece_id IS NOT NULL)"),
        check("run", "(basis = 'run') = (run_id IS NOT NULL)"),
        check("edition", "(basis = 'edition') = (edition_id IS NOT NULL)"),
        check("sale", "(basis = 'sale') = (sale_id IS NOT NULL)"),
        check("occasion", "(basis = 'occasion') = (occasion_id IS NOT NULL)"),
    )
    id: int | None = Field(default=None, primary_key=True)
    basis: str
    piece_id: int | None = Field(default=None, foreign_key="piece.id", index=True)
    run_id: int | None = Field(default=None, foreign_key="run.id", index=True)
    edition_id: int | None = Field(default=None, foreign_key="edition.id", index=True)
    sale_id: int | None = Field(default=None, foreign_key="sale.id", index=True)
    occasion_id: int | None = Field(default=None, foreign_key="occasion.id", index=True)
    own_labour: bool = False
    amount_minor: int = money()
    spent_on: date = Field(index=True)
    note: str = ""
    struck_at: datetime | None = None
    sheet_plan_id: int | None = Field(default=None, foreign_key="sheet_plan.id", index=True)


class Recipe(SQLModel, table=True):
    """One version of what finishing a print costs; a change writes the next, the earlier ones stay."""

    __tablename__ = "recipe"
    __table_args__ = (UniqueConstraint("name", "version"), check("version", "version >= 1"))
    id: int | None = Field(default=None, primary_key=True)
    name: str
    version: int = 1
    written_on: date


class RecipeLine(SQLModel, table=True):
    """An amount for so many prints, or with `minutes` own time at that amount an hour."""

    __tablename__ = "recipe_line"
    __table_args__ = (
        check("amount", "amount_minor > 0"),
        check("prints", "prints >= 1"),
        check("minutes", "minutes IS NULL OR minutes >= 1"),
        check("spoilage", "spoilage_bp BETWEEN 0 AND 9999"),
    )
    id: int | None = Field(default=None, primary_key=True)
    recipe_id: int = Field(foreign_key="recipe.id", index=True)
    name: str
    amount_minor: int = money()
    prints: int = 1
    minutes: int | None = None
    spoilage_bp: int = 0


class Finished(SQLModel, table=True):
    """A print that was finished by a recipe, found by a cost it was given; by itself where its share was nought."""

    __tablename__ = "finished"
    __table_args__ = (
        UniqueConstraint("entry_seq", "piece_id"),
        check("piece", "(cost_id IS NULL) = (piece_id IS NOT NULL)"),
    )
    id: int | None = Field(default=None, primary_key=True)
    entry_seq: int = Field(foreign_key="journal.seq", index=True)
    recipe_id: int = Field(foreign_key="recipe.id", index=True)
    cost_id: int | None = Field(default=None, foreign_key="cost.id", unique=True)
    piece_id: int | None = Field(default=None, foreign_key="piece.id", index=True)


class Event(SQLModel, table=True):
    """One row for each thing an entry touches: the story pages tell."""

    __tablename__ = "event"
    id: int | None = Field(default=None, primary_key=True)
    entry_seq: int = Field(foreign_key="journal.seq", index=True)
    happened_on: date
    kind: str
    edition_id: int | None = Field(default=None, foreign_key="edition.id", index=True)
    piece_id: int | None = Field(default=None, foreign_key="piece.id", index=True)
    certificate_id: int | None = Field(default=None, foreign_key="certificate.id", index=True)
    sale_line_id: int | None = Field(default=None, foreign_key="sale_line.id")
    person_id: int | None = Field(default=None, foreign_key="person.id", index=True)
    text: str | None = None
    picture_id: int | None = Field(default=None, foreign_key="picture.id")


class Correction(SQLModel, table=True):
    __tablename__ = "correction"
    __table_args__ = (
        check(
            "one_target",
            "(CASE WHEN work_id IS NULL THEN 0 ELSE 1 END + CASE WHEN edition_id IS NULL THEN 0 ELSE 1 END "
            "+ CASE WHEN offer_id IS NULL THEN 0 ELSE 1 END + CASE WHEN person_id IS NULL THEN 0 ELSE 1 END) "
            "= 1",
        ),
    )
    id: int | None = Field(default=None, primary_key=True)
    entry_seq: int = Field(foreign_key="journal.seq")
    work_id: int | None = Field(default=None, foreign_key="work.id", index=True)
    edition_id: int | None = Field(default=None, foreign_key="edition.id")
    offer_id: int | None = Field(default=None, foreign_key="offer.id", index=True)
    person_id: int | None = Field(default=None, foreign_key="person.id")
    field: str
    old: str
    new: str
    why: str


class Journal(SQLModel, table=True):
    __tablename__ = "journal"
    seq: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    kind: str
    at: datetime
    body: bytes = Field(sa_column=Column(LargeBinary, nullable=False))
    leaf: bytes = Field(sa_column=Column(LargeBinary(32), nullable=False))


class JournalNode(SQLModel, table=True):
    """A complete subtree of the hash tree over the journal; those of level 0 are the leaves."""

    __tablename__ = "journal_node"
    level: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    idx: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    hash: bytes = Field(sa_column=Column(LargeBinary(32), nullable=False))


class SignedHead(SQLModel, table=True):
    """A head of the record as it was signed: a signed note over its size and root."""

    __tablename__ = "checkpoint"
    size: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    note: str
    at: datetime


class SigningKeys(SQLModel, table=True):
    """The public halves of the keys that sign from an entry on; the private ones are never in the database."""

    __tablename__ = "signing_keys"
    id: int | None = Field(default=None, primary_key=True)
    entry_seq: int = Field(foreign_key="journal.seq")
    issuer: str
    journal: str


class Secret(SQLModel, table=True):
    """Salt and value behind a sealed commitment: the only book table whose rows are erased."""

    __tablename__ = "secret"
    __table_args__ = (UniqueConstraint("entry_seq", "field"), one_of("field", "facts", "person"))
    id: int | None = Field(default=None, primary_key=True)
    entry_seq: int = Field(foreign_key="journal.seq")
    field: str
    salt: bytes = Field(sa_column=Column(LargeBinary(32), nullable=False))
    value: bytes = Field(sa_column=Column(LargeBinary, nullable=False))
    person_id: int | None = Field(default=None, foreign_key="person.id", index=True)


class Account(SQLModel, table=True):
    __tablename__ = "account"
    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(unique=True)
    password_hash: str
    made_at: datetime


class SignedIn(SQLModel, table=True):
    __tablename__ = "session"
    token_sha256: str = Field(primary_key=True)
    account_id: int = Field(foreign_key="account.id")
    made_at: datetime
    seen_at: datetime


class Token(SQLModel, table=True):
    __tablename__ = "token"
    id: int | None = Field(default=None, primary_key=True)
    token_sha256: str = Field(unique=True)
    account_id: int = Field(foreign_key="account.id")
    label: str
    made_at: datetime
    ended_at: datetime | None = None


class FirstSignIn(SQLModel, table=True):
    """A one-time address under which an account is made."""

    __tablename__ = "first_sign_in"
    token_sha256: str = Field(primary_key=True)
    made_at: datetime


class SignInTry(SQLModel, table=True):
    __tablename__ = "signin_try"
    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(index=True)
    at: datetime


class Idempotency(SQLModel, table=True):
    __tablename__ = "idempotency"
    __table_args__ = (UniqueConstraint("account_id", "key"),)
    id: int | None = Field(default=None, primary_key=True)
    account_id: int = Field(foreign_key="account.id")
    key: str
    request_sha256: str
    result_path: str
    at: datetime


class SearchWord(SQLModel, table=True):
    """The beginning of any word of a title or a name, folded, or of a rest of a code, found by index."""

    __tablename__ = "search_word"
    __table_args__ = (Index("ix_search_word_word", "word"),)
    id: int | None = Field(default=None, primary_key=True)
    # Byte by byte: in a language's own order no letter is sure to come after all others.
    word: str = Field(sa_column=Column(String().with_variant(String(collation="C"), "postgresql"), nullable=False))
    work_id: int | None = Field(default=None, foreign_key="work.id", index=True)
    person_id: int | None = Field(default=None, foreign_key="person.id", index=True)
    certificate_id: int | None = Field(default=None, foreign_key="certificate.id")


HOUSEKEEPING = ("account", "session", "token", "first_sign_in", "signin_try", "idempotency", "search_word")
RECORD = ("journal", "journal_node", "checkpoint")
BOOK_TABLES = tuple(sorted(name for name in SQLModel.metadata.tables if name not in (*HOUSEKEEPING, *RECORD, "secret")))
