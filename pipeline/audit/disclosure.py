"""What a finding reveals: the columns of a pack that can be read out of a value in its sentence.

What leaves the house is decided by column. A finding that could reveal a column that is kept back is reduced to its
rule's title.
"""

from pipeline.contracts import AS_WRITTEN, AUDIT_FRAME, PUBLISHED
from pipeline.errors import ContractError

__all__ = ["AS_WRITTEN", "revealed_by"]


def revealed_by(name: str, *, is_number: bool = False) -> frozenset[str]:
    """Return the columns, by their names in a pack, that can be read out of a column of the audit.

    Parameters
    ----------
    name
        One of ``AUDIT_COLUMNS``.
    is_number
        The cell as it was written is known to be a number, so it reveals no more than the number itself.

    Raises
    ------
    ContractError
        The contract does not declare the column, or not what it reveals.
    """
    column = AUDIT_FRAME.get(name)
    if column is None:
        raise ContractError(f"column {name}: not in the frame that the audit reads. Declare it in pipeline/contracts.")
    if column.cell_of:
        return revealed_by(column.cell_of) if is_number else frozenset({AS_WRITTEN})
    if column.reveals is not None:
        return frozenset(column.reveals)
    if column.made_from is not None:
        return frozenset().union(*(revealed_by(source) for source in column.made_from))
    if column.published in PUBLISHED:
        return frozenset({column.published})
    raise ContractError(
        f"column {name}: its contract does not say what it reveals. Add `reveals` in pipeline/contracts."
    )
