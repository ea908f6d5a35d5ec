"""Tables as Parquet files."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from harvestcast.gardens.needs import needed


def parquet_bytes(rows: pd.DataFrame) -> bytes:
    """Return a table as the bytes of a Parquet file; the same rows give the same bytes."""
    arrow, parquet = needed("pyarrow"), needed("pyarrow.parquet")
    sink = arrow.BufferOutputStream()
    try:
        table = arrow.Table.from_pandas(rows, preserve_index=False)
    except (arrow.ArrowTypeError, arrow.ArrowInvalid):
        # Kinds of value mixed in a column: kept as text, so that the garden at fault is named.
        mixed = {
            str(name): values.map(str, na_action="ignore")
            for name, values in rows.items()
            if values.dtype == object
        }
        table = arrow.Table.from_pandas(rows.assign(**mixed), preserve_index=False)
    parquet.write_table(table, sink, compression="zstd")
    return bytes(sink.getvalue().to_pybytes())


def read_parquet(path: Path) -> pd.DataFrame:
    """Return the rows of one Parquet file."""
    frame: pd.DataFrame = needed("pyarrow.parquet").ParquetFile(path).read().to_pandas()
    return frame
