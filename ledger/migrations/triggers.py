"""Triggers: what may never happen to a row, held by the database itself.

All are installed by `install_triggers`, which may run any number of times, and are looked for at every start.
"""

from dataclasses import dataclass

from sqlalchemy import Connection

from ledger.tables import BOOK_TABLES, RECORD

FROZEN = {
    "edition": ("work_id", "ordinal", "kind", "statement", "later_editions", "declared_on", "begun_words"),
    "edition_answer": ("edition_id", "item", "version", "answer", "text"),
    "size": ("edition_id", "label", "image_w_um", "image_h_um", "sheet_w_um", "sheet_h_um"),
    "mount_cutter": ("name", "scale", "offset_um", "calibrated_on"),
    "frame": ("sold_as", "unit", "width_a_um", "width_b_um", "height_a_um", "height_b_um", "depth_um", "measured_on"),
    "mount_plan": ("title", "kind", "unit", "size_id", "cutter_id", "asked", "made_on"),
    "offcut": ("board", "unit", "width_um", "height_um", "mount_plan_id", "kept_on"),
    "offer": ("size_id", "from_on", "process", "paper", "mounting", "mount_plan_id", "recipe_id"),
    "price_step": ("offer_id", "from_sold", "price_minor"),
    "print_class": ("edition_id", "kind", "label", "style", "count", "edition_kind"),
    "certificate": (
        "code",
        "piece_id",
        "snapshot",
        "credential",
        "issued_on",
        "place",
        "address_printed",
        "reissue_of",
    ),
    "piece": ("class_id", "class_count", "number", "generation", "replaces"),
    "sheet_plan": ("name", "made_on", "plan"),
    "sheet_plan_size": ("plan_id", "place", "size_id"),
    "run": ("edition_id", "size_id", "plan_id", "planned", "made_on", "sheets"),
    "spare_fate": ("run_id", "fate", "how_many", "settled_on"),
    "sale_line": ("sale_id", "position", "list_minor"),
    "recipe": ("name", "version", "written_on"),
    "recipe_line": ("recipe_id", "name", "amount_minor", "prints", "minutes", "spoilage_bp"),
    "finished": ("entry_seq", "recipe_id", "cost_id", "piece_id"),
    "event": ("entry_seq", "happened_on", "kind", "edition_id", "piece_id", "certificate_id", "sale_line_id"),
    "signing_keys": ("entry_seq", "issuer", "journal"),
    "correction": ("entry_seq", "work_id", "edition_id", "offer_id", "person_id", "field"),
}


@dataclass(frozen=True)
class Rule:
    """One trigger: it fires `before` an action on `table`, and refuses when `when` holds."""

    name: str
    table: str
    action: str
    when: str
    says: str


def _rules() -> list[Rule]:
    rules = [
        Rule("journal_no_update", "journal", "UPDATE", "1 = 1", "a journal entry is never changed"),
        Rule("journal_no_delete", "journal", "DELETE", "1 = 1", "a journal entry is never deleted"),
        Rule(
            "journal_next",
            "journal",
            "INSERT",
            "NEW.seq <> (SELECT coalesce(max(seq), -1) + 1 FROM journal)",
            "a journal entry takes the next place",
        ),
        Rule("journal_node_no_update", "journal_node", "UPDATE", "1 = 1", "a node of the tree is never changed"),
        Rule("journal_node_no_delete", "journal_node", "DELETE", "1 = 1", "a node of the tree is never deleted"),
        Rule(
            "journal_node_next",
            "journal_node",
            "INSERT",
            "NEW.idx <> (SELECT coalesce(max(idx), -1) + 1 FROM journal_node WHERE level = NEW.level)",
            "a node of the tree takes the next place of its level",
        ),
        Rule("checkpoint_no_update", "checkpoint", "UPDATE", "1 = 1", "a signed head is never changed"),
        Rule("checkpoint_no_delete", "checkpoint", "DELETE", "1 = 1", "a signed head is never deleted"),
        Rule(
            "checkpoint_next",
            "checkpoint",
            "INSERT",
            "NEW.size <= (SELECT coalesce(max(size), 0) FROM checkpoint) "
            "OR NEW.size <> (SELECT coalesce(max(seq), -1) + 1 FROM journal)",
            "a head is signed once, and of the whole record",
        ),
        Rule("secret_no_update", "secret", "UPDATE", "1 = 1", "a secret is never changed"),
        Rule("secret_keeps_facts", "secret", "DELETE", "OLD.field = 'facts'", "facts are never erased"),
    ]
    for table in BOOK_TABLES:
        says = f"a row of {table} is never deleted"
        rules.append(Rule(f"{table}_no_delete", table, "DELETE", "1 = 1", says))
    for table, columns in FROZEN.items():
        changed = " OR ".join(f"OLD.{column} IS DISTINCT FROM NEW.{column}" for column in columns)
        rules.append(Rule(f"{table}_frozen", table, "UPDATE", changed, f"a row of {table} is fixed for good"))
    for table in ("print_class", "size"):
        rules.append(
            Rule(
                f"{table}_before_pieces",
                table,
                "INSERT",
                "EXISTS (SELECT 1 FROM piece JOIN print_class ON print_class.id = piece.class_id "
                "WHERE print_class.edition_id = NEW.edition_id)",
                "an edition is never enlarged once it has numbers",
            )
        )
    rules.append(
        Rule(
            "offer_mounted",
            "offer",
            "INSERT",
            "EXISTS (SELECT 1 FROM mount_plan WHERE id = NEW.mount_plan_id AND size_id <> NEW.size_id)",
            "a mount plan made for one size is no mounting of another",
        )
    )
    of_accepting = ("accepted_on", "sheet_minor", "bought", "delivery_minor", "printed_on")
    changed = " OR ".join(f"OLD.{column} IS DISTINCT FROM NEW.{column}" for column in of_accepting)
    rules.append(
        Rule(
            "sheet_plan_accepted_once",
            "sheet_plan",
            "UPDATE",
            f"OLD.accepted_on IS NOT NULL AND ({changed}) AND (NEW.accepted_on IS NOT NULL "
            "OR EXISTS (SELECT 1 FROM run WHERE plan_id = OLD.id AND struck_at IS NULL))",
            "a sheet plan is accepted once, until its printings are struck",
        )
    )
    rules.append(
        Rule(
            "signing_keys_once",
            "signing_keys",
            "INSERT",
            "EXISTS (SELECT 1 FROM signing_keys)",
            "a ledger has its signing keys once",
        )
    )
    rules.append(
        Rule(
            "piece_origin",
            "piece",
            "UPDATE",
            "OLD.origin IS DISTINCT FROM NEW.origin AND NOT (OLD.state = 'free' AND NEW.origin = 'entered')",
            "where a print comes from is fixed for good",
        )
    )
    rules.append(
        Rule(
            "piece_replaces",
            "piece",
            "INSERT",
            "NEW.generation > 1 AND NOT EXISTS (SELECT 1 FROM piece AS earlier "
            "WHERE earlier.id = NEW.replaces AND earlier.class_id = NEW.class_id "
            "AND earlier.number = NEW.number AND earlier.generation = NEW.generation - 1 AND NOT earlier.latest "
            "AND earlier.condition IN ('destroyed', 'missing'))",
            "a second print replaces one of its number that is destroyed or missing",
        )
    )
    return rules


def _sqlite(rule: Rule) -> list[str]:
    when = rule.when.replace("IS DISTINCT FROM", "IS NOT")
    return [
        f"DROP TRIGGER IF EXISTS {rule.name}",
        f"CREATE TRIGGER {rule.name} BEFORE {rule.action} ON {rule.table} WHEN {when} "
        f"BEGIN SELECT RAISE(ABORT, '{rule.says}'); END",
    ]


REFUSED = "USING ERRCODE = 'integrity_constraint_violation'"


def _postgres(rule: Rule) -> list[str]:
    row = "OLD" if rule.action == "DELETE" else "NEW"
    return [
        f"CREATE OR REPLACE FUNCTION {rule.name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"IF {rule.when} THEN RAISE EXCEPTION '{rule.says}' {REFUSED}; END IF; RETURN {row}; END $$",
        f"CREATE OR REPLACE TRIGGER {rule.name} BEFORE {rule.action} ON {rule.table} "
        f"FOR EACH ROW EXECUTE FUNCTION {rule.name}()",
    ]


def _reused_ids() -> list[Rule]:
    # INSERT OR REPLACE would delete the row it meets without firing a delete trigger on older connections.
    return [
        Rule(
            f"{table}_new_id",
            table,
            "INSERT",
            f"EXISTS (SELECT 1 FROM {table} WHERE id = NEW.id)",
            f"a row of {table} is never written over",
        )
        for table in (*BOOK_TABLES, "secret")
    ]


KEPT = (*BOOK_TABLES, *RECORD, "secret")


def _no_truncation(table: str) -> list[str]:
    # PostgreSQL empties a table without asking the triggers of its rows.
    return [
        f"CREATE OR REPLACE FUNCTION {table}_no_truncate() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"RAISE EXCEPTION '{table} is never emptied' {REFUSED}; END $$",
        f"CREATE OR REPLACE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION {table}_no_truncate()",
    ]


def expected_triggers(dialect: str) -> frozenset[str]:
    """The names that must be present on this engine."""
    names = {rule.name for rule in _rules()}
    if dialect == "sqlite":
        return frozenset(names | {rule.name for rule in _reused_ids()})
    return frozenset(names | {f"{table}_no_truncate" for table in KEPT})


def install_triggers(connection: Connection) -> None:
    """Put every trigger in place, renewing those already there."""
    if connection.dialect.name == "sqlite":
        statements = [line for rule in (*_rules(), *_reused_ids()) for line in _sqlite(rule)]
    else:
        statements = [line for rule in _rules() for line in _postgres(rule)]
        statements += [line for table in KEPT for line in _no_truncation(table)]
    for statement in statements:
        connection.exec_driver_sql(statement)


def drop_triggers(connection: Connection) -> None:
    """Take every trigger away, those an earlier program named otherwise too, so that tables can be altered."""
    for name, table in _installed(connection):
        on = f" ON {table}" if connection.dialect.name == "postgresql" else ""
        connection.exec_driver_sql(f"DROP TRIGGER {name}{on}")


def missing_triggers(connection: Connection) -> frozenset[str]:
    """The triggers that ought to be here and are not."""
    return expected_triggers(connection.dialect.name) - {name for name, _ in _installed(connection)}


def _installed(connection: Connection) -> list[tuple[str, str]]:
    """Every trigger in the database and its table."""
    if connection.dialect.name == "sqlite":
        asked = "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'"
    else:
        asked = "SELECT tgname, tgrelid::regclass::text FROM pg_trigger WHERE NOT tgisinternal"
    return [(row[0], row[1]) for row in connection.exec_driver_sql(asked)]
