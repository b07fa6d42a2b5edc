"""The build sheet: what the technician works from, on one page of paper or on a phone."""

from shipworthy.orders.sheet.page import sheet_page
from shipworthy.orders.sheet.view import Check, Sheet, Trouble, build_sheet

__all__ = ["Check", "Sheet", "Trouble", "build_sheet", "sheet_page"]
