"""Files that are being written: see reports.scratch, which both floors use."""

from reports.scratch import Scratch, left_behind, scratch, settle, sweep, write_whole

__all__ = ["Scratch", "left_behind", "scratch", "settle", "sweep", "write_whole"]
