"""The tables of what is bought for each yard, and of what each crew loads."""

from typing import Final

from pipeline.contracts.column import Column

__all__ = ["BUYING_TABLES"]

_PERIOD: Final = Column("period", "text", "", "Period", "week or month in which it is needed, or all")
_ITEM: Final = Column("item", "text", "", "Item", "item to order")
_YARD: Final = Column("yard", "text", "", "Yard", "yard that it is for")
BUYING_TABLES: Final = {
    "purchases": (
        _YARD,
        _ITEM,
        _PERIOD,
        Column("needed_from", "day", "", "Needed from", "first day on which it is needed"),
        Column("order_by", "day", "", "Order by", "last day to order; missing where nothing is ordered"),
        Column("late_days", "integer", "d", "Late", "days by which the order is late already"),
        Column("packs_planned", "number", "", "Packs planned", "packs that the plan needs; of grout, bags to mix"),
        Column("packs_safety_stock", "number", "", "Safety stock", "packs kept beyond the plan"),
        Column("packs_from_stock", "number", "", "From stock", "packs taken from stock"),
        Column("packs_ordered", "integer", "", "To buy", "packs to buy"),
        Column("pallets", "number", "", "Pallets", "pallets that these come to"),
        Column("packs_left", "number", "", "Packs left", "packs left for later periods"),
        Column("packs_expiring", "number", "", "Packs expired", "packs that expire unused before the period begins"),
        Column("use_by", "day", "", "Use by", "last day of use; missing for items without a shelf life"),
        Column("cost", "number", "", "Cost", "cost of the packs to buy", optional=True),
        Column("currency", "text", "", "Currency", "currency of the cost", optional=True),
        Column(
            "rounding_packs",
            "number",
            "",
            "Rounding packs",
            "packs to buy that neither plan nor safety stock uses, from pallets and minimum orders",
        ),
        Column("transferred_in", "number", "", "Moved in", "packs moved in from another yard"),
        Column("transferred_out", "number", "", "Moved out", "packs moved out to another yard"),
        Column("price", "number", "", "Price", "price of a pack in this order", optional=True),
        Column("rounding_cost", "number", "", "Rounding cost", "cost of the rounding packs", optional=True),
        Column("transfer_cost", "number", "", "Moving cost", "cost of moving in packs", optional=True),
    ),
    "purchase_totals": (
        _ITEM,
        Column("packs_planned", "number", "", "Packs planned", "packs that the plan needs; of grout, bags to mix"),
        Column("packs_safety_stock", "number", "", "Safety stock", "packs kept beyond the plan"),
        Column("stock_used", "number", "", "From stock", "packs of the stock in the yards that are used"),
        Column("packs_ordered", "number", "", "To buy", "packs to buy"),
        Column(
            "rounding_packs", "number", "", "Rounding packs", "packs to buy that neither plan nor safety stock uses"
        ),
        Column("packs_apart", "number", "", "Packs, yards apart", "packs to buy if each yard buys for itself"),
        Column("packs_pooled", "number", "", "Packs, yards pooled", "packs to buy if yards supply each other"),
        Column("cost", "number", "", "Cost", "cost of the packs to buy; missing without a price"),
        Column("rounding_cost", "number", "", "Rounding cost", "cost of the rounding packs; missing without a price"),
        Column("transfer_cost", "number", "", "Moving cost", "cost of moving packs; missing without a price"),
        Column("cost_apart", "number", "", "Cost, yards apart", "cost if each yard buys for itself"),
        Column("cost_pooled", "number", "", "Cost, yards pooled", "cost if yards supply each other, moving included"),
        Column("currency", "text", "", "Currency", "currency of the costs"),
        Column("measure", "text", "", "Minimised", "what is kept as low as possible: cost or packs"),
        Column("value", "number", "", "Reached", "cost, moving included, or packs"),
        Column("bound", "number", "", "Lower bound", "no purchase that meets the needs has less"),
        Column("gap", "number", "", "Gap", "value less bound, as a share of the bound"),
    ),
    "loads": (
        Column("day", "text", "", "Day", "day of the visit"),
        Column("crew", "text", "", "Crew", "crew of the visit"),
        Column("district", "text", "", "District", "districts of the visit, separated by semicolons"),
        Column("cores", "integer", "", "Cores", "number of cores that take the item"),
        _ITEM,
        Column("unit", "text", "", "Unit", "unit of the quantities"),
        Column("needed", "number", "", "Net need", "exact quantity needed"),
        Column("carry", "number", "", "To load", "quantity in bags to mix or in whole packs"),
        Column("packs", "integer", "", "Packs", "number of packs; missing for water"),
        Column("core_ids", "text", "", "Core ids", "ids of the cores that take the item, in the order of the stops"),
        Column("cautions", "text", "", "Cautions", "cautions for the states and surfaces of the visit's cores"),
        Column("states", "text", "", "States", "number of these cores by state"),
        Column("hazards", "text", "", "Hazards", "ids of the cores with a hazard, which come first in core ids"),
        Column("heaviest_core_kg", "number", "kg", "Heaviest core", "weight of the heaviest of these cores"),
        Column("mixes", "text", "", "Shared mixes", "which of these cores share a mix"),
    ),
}
