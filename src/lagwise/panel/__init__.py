"""Checked tables -> one row per person and step: clock, load, pain and how the person was."""

from lagwise.panel.build import build_panel, panel_from_blocks, rebuild

__all__ = ["build_panel", "panel_from_blocks", "rebuild"]
