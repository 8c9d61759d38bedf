"""Checked tables -> one row per person and step: clock, load, pain and how the person was."""

from lagwise.panel.build import build_panel, panel_from_blocks, rebuild
from lagwise.panel.columnar import panel_from_parquet

__all__ = ["build_panel", "panel_from_blocks", "panel_from_parquet", "rebuild"]
