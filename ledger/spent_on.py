"""What a cost was spent on, in words."""

from sqlmodel import Session

from ledger import editions, occasions, pieces, runs, sales, works
from ledger.reckoning import dates
from ledger.sales import SaleView
from ledger.tables import Cost, Run


class SpentOn:
    """The words for what costs were spent on; titles are looked up once."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.titles = {each.id or 0: each.title for each in works.listing(session)}
        self.editions = {each.id or 0: (self.titles[each.work_id], each.ordinal) for each in editions.listing(session)}

    def of(self, cost: Cost) -> str:
        """'Printing of 2 March 2024, Forty Minutes of Road'."""
        if cost.run_id is not None:
            return self.run(runs.get(self.session, cost.run_id))
        if cost.edition_id is not None:
            return f"Edition: {self.edition(cost.edition_id)}"
        if cost.occasion_id is not None:
            return occasions.get(self.session, cost.occasion_id).name
        if cost.sale_id is not None:
            return self.sale(sales.view(self.session, cost.sale_id))
        if cost.piece_id is not None:
            return f"Print: {pieces.titled(self.session, cost.piece_id)}"
        return "The whole studio"

    def edition(self, edition_id: int) -> str:
        title, ordinal = self.editions.get(edition_id) or (self._withdrawn(edition_id), 1)
        return title if ordinal == 1 else f"{title}, edition {ordinal}"

    def _withdrawn(self, edition_id: int) -> str:
        return self.titles[editions.get(self.session, edition_id).work_id]

    def run(self, run: Run) -> str:
        return f"Printing of {dates.said(run.made_on)}, {self.edition(run.edition_id)}"

    def sale(self, seen: SaleView) -> str:
        """'Sale of 4 May 2026: Forty Minutes of Road 7/25, to Wilhelmina Tarn'."""
        standing = [line.piece_id for line in seen.lines if line.outcome == "sold"]
        prints = pieces.those(self.session, standing or [line.piece_id for line in seen.lines])
        said = [f"{each.title} {each.shown}" for each in prints.values()]
        whom = f"to {seen.buyer}" if seen.sale.buyer_id is not None else seen.channel.name
        more = " and more" if len(said) > 3 else ""
        return f"Sale of {dates.said(seen.sale.sold_on)}: {', '.join(said[:3])}{more}, {whom}"
