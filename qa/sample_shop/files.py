"""Writes the invented shop's readings as the files that ship in sample_logs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from qa.errors import ShopError
from qa.sample_shop.bench_faults import bench_faults
from qa.sample_shop.diary import diary
from qa.sample_shop.readings import DEFAULT_SEED, generate
from qa.sample_shop.studies import studies

if TYPE_CHECKING:
    import pandas as pd

YEARS = ("2024", "2025")


def write(folder: Path, seed: int = DEFAULT_SEED) -> list[Path]:
    """Write the logs by year, the faults, the studies and the diary as CSV; give the files written.

    ShopError where the folder cannot be written.
    """
    frames = {Path(folder) / name: frame for name, frame in files(seed).items()}
    try:
        for path, frame in frames.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            frame.to_csv(path, index=False, lineterminator="\n", encoding="utf-8")
    except OSError as error:
        raise ShopError(f"the sample logs cannot be written to {folder}: {error.strerror}") from error
    return list(frames)


def files(seed: int) -> dict[str, pd.DataFrame]:
    """Make every file by its name in the folder, with numbers as the texts they are written with."""
    log = texts(generate(seed))
    return {
        **{f"year-{n}.csv": log[log["taken_at"].str[:4] == year] for n, year in enumerate(YEARS, 1)},
        "faults-at-the-bench.csv": bench_faults(log),
        "diary.csv": diary(seed),
        **{f"studies/{name}.csv": texts(frame) for name, frame in studies(seed).items()},
    }


def texts(frame: pd.DataFrame) -> pd.DataFrame:
    """Write values with the two decimals of the display, temperatures with one."""
    decimals = {"value": "{:.2f}", "temp_c": "{:.1f}"}
    return frame.assign(
        **{name: frame[name].map(how.format) for name, how in decimals.items() if name in frame}
    )
